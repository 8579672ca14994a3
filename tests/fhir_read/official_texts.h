// The texts of the official examples (hl7.fhir.r4.examples 4.0.1, hl7.fhir.r5.examples 5.0.0, CC0) of at most so many bytes, sorted; empty where
// tests/peer/install did not put them.
#pragma once

#include <algorithm>
#include <cstdint>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

namespace reading_test {

inline std::vector<std::string> official(std::uintmax_t longest) {
  std::vector<std::string> texts;
  for (const char* package : {"hl7.fhir.r4.examples", "hl7.fhir.r5.examples"}) {
    const auto folder = std::filesystem::path(SOURCE_DIR) / "tests/peer/node_modules" / package;
    if (!std::filesystem::exists(folder)) continue;
    for (const auto& entry : std::filesystem::directory_iterator(folder)) {
      if (entry.path().extension() != ".json" || entry.file_size() > longest) continue;
      std::ifstream in(entry.path(), std::ios::binary);
      std::stringstream bytes;
      bytes << in.rdbuf();
      texts.push_back(bytes.str());
    }
  }
  std::ranges::sort(texts);
  return texts;
}

}  // namespace reading_test
