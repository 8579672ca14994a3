// The shipped English sentences, plus stand-ins for the reasons that the hand-made plans use.
#pragma once

#include <gtest/gtest.h>

#include "words/plan_words.h"

namespace example {

inline const words::Words& english() {
  static const auto loaded = words::load_words(SOURCE_DIR "/templates", "en");
  EXPECT_TRUE(loaded.faults.empty()) << (loaded.faults.empty() ? "" : loaded.faults.front().text);
  return loaded.words;
}

inline words::Voice voice(clinical::Instant at, const char* zone = nullptr) { return {english(), words::context_at(at, zone ? words::zone_named(zone) : nullptr)}; }

/// What was asked of the sentences and is not there, apart from the codes that only the hand-made plans have.
inline std::vector<std::string> not_found() {
  std::vector<std::string> rest;
  for (const auto& name : english().missing())
    if (name.find("test.") == std::string::npos) rest.push_back(name);
  return rest;
}

}  // namespace example
