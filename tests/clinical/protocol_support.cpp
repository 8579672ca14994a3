#include "protocol_support.h"

#include <cstdio>
#include <cstdlib>

#include "profile/protocol_file.h"

namespace clinical {

namespace {

Protocol shipped(const char* file) {
  auto loaded = profile::load_protocol(file);
  if (!loaded.protocol) {
    for (const auto& fault : loaded.faults) std::fprintf(stderr, "%s\n", to_string(fault).c_str());
    std::abort();
  }
  return *loaded.protocol;
}

}  // namespace

const Protocol& cautious() {
  static const Protocol protocol = shipped(SOURCE_DIR "/profiles/protocol/cautious.toml");
  return protocol;
}

const Protocol& early_walk() {
  static const Protocol protocol = shipped(SOURCE_DIR "/profiles/protocol/early-walk.toml");
  return protocol;
}

}  // namespace clinical
