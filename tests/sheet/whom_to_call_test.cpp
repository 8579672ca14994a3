// Whom the record names, and what the patient does not tolerate, at their places on the sheet. Names and numbers are invented.
#include <algorithm>

#include "sheet_support.h"

namespace sheet {
namespace {

using testing::AllOf;
using testing::HasSubstr;

const Section* section(const SheetLines& lines, std::string_view title) {
  const auto found = std::ranges::find_if(lines.sections, [&](const Section& s) { return s.title.starts_with(title); });
  return found == lines.sections.end() ? nullptr : &*found;
}

TEST(WhomToCall, WhomTheRecordNamesStandsWithTheCallsAndAllergiesWithTheCautions) {
  Case c = resting();
  c.plan.cautions.push_back({"caution.contact", {{"who", std::string("Dr A. Invented (attending)")}, {"phone", std::string("5550-1")}, {"source", std::string("PractitionerRole/pr")}}});
  c.plan.cautions.push_back({"caution.allergy-latex", {}});
  const auto said = lines_of(c.input(), fonts());
  const auto *calls = section(said, "When to call"), *cautions = section(said, "Take care");
  ASSERT_TRUE(calls && cautions);
  EXPECT_THAT(calls->before, testing::Contains(AllOf(HasSubstr("Dr A. Invented (attending)"), HasSubstr("5550-1"), HasSubstr("PractitionerRole/pr"), HasSubstr("not checked"))));
  EXPECT_THAT(cautions->before, testing::Contains(HasSubstr("Latex allergy")));
  EXPECT_THAT(cautions->before, testing::Not(testing::Contains(HasSubstr("5550-1"))));
}

}  // namespace
}  // namespace sheet
