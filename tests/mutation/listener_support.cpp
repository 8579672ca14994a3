// For each test, which mutants it met, when MUTANT_MAP is set: "suite.test 12 3 17 ..." with the milliseconds first, after a line "exist 0 1 2 3 ..." of all that are
// a program of their own. Copied beside the tests of the rewritten tree.
#include <gtest/gtest.h>

#include <cstdio>
#include <cstdlib>

#include "clinical/mutant.h"

namespace {

class Map : public testing::EmptyTestEventListener {
  void OnTestProgramStart(const testing::UnitTest&) override {
    std::FILE* out = std::fopen(std::getenv("MUTANT_MAP"), "a");
    std::fputs("exist 0", out);
    for (int n = 1; n < mutant::kMost; ++n)
      if (mutant::known().test(static_cast<std::size_t>(n))) std::fprintf(out, " %d", n);
    std::fputc('\n', out);
    std::fclose(out);
  }
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
