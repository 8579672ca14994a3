#include "protocol_support.h"

#include <cstdio>
#include <cstdlib>

#include "profile/protocol_file.h"

namespace clinical {

const Protocol& cautious() {
  static const Protocol protocol = [] {
    auto loaded = profile::load_protocol(SOURCE_DIR "/profiles/protocol/cautious.toml");
    if (!loaded.protocol) {
      for (const auto& fault : loaded.faults) std::fprintf(stderr, "%s\n", to_string(fault).c_str());
      std::abort();
    }
    return *loaded.protocol;
  }();
  return protocol;
}

}  // namespace clinical
