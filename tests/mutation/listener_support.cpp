// For each test, which mutants it met: "MET suite.test 3 17 ...", when MUTANT_MAP is set. Copied beside the tests of the rewritten tree.
#include <gtest/gtest.h>

#include <cstdio>
#include <cstdlib>

#include "clinical/mutant.h"

namespace {

class Map : public testing::EmptyTestEventListener {
  void OnTestStart(const testing::TestInfo&) override { mutant::met.reset(); }
  void OnTestEnd(const testing::TestInfo& test) override {
    std::FILE* out = std::fopen(std::getenv("MUTANT_MAP"), "a");
    std::fprintf(out, "%s.%s %lld", test.test_suite_name(), test.name(), static_cast<long long>(test.result()->elapsed_time()));
    for (int n = 1; n < mutant::kMost; ++n)
      if (mutant::met.test(static_cast<std::size_t>(n))) std::fprintf(out, " %d", n);
    std::fputc('\n', out);
    std::fclose(out);
  }
};

const bool listening = [] {
  if (std::getenv("MUTANT_MAP")) testing::UnitTest::GetInstance()->listeners().Append(new Map);
  return true;
}();

}  // namespace
