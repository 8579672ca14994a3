#include "profile/protocol_file.h"

#include <gtest/gtest.h>

#include "profile/sha256.h"

namespace profile {
namespace {

TEST(Cautious, Loads) {
  const auto loaded = load_protocol(SOURCE_DIR "/profiles/protocol/cautious.toml");
  for (const auto& fault : loaded.faults) ADD_FAILURE() << tables::to_string(fault);
  ASSERT_TRUE(loaded.protocol);
  EXPECT_FALSE(loaded.protocol->approved);
}

}  // namespace
}  // namespace profile
