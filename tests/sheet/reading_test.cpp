// A page as a fax shows it, read by a program that knows nothing of ours (tesseract).
#include "sheet_support.h"

namespace sheet {
namespace {

using testing::HasSubstr;

std::string read_at_fax_quality(const Case& c) {
  const std::string path = scratch(c.name + ".pdf", pdf_of_case(c).bytes);
  output_of("pdftoppm -r 200 -mono -f 1 -l 1 -singlefile " + path + " " + path);
  return output_of("OMP_THREAD_LIMIT=1 tesseract " + path + ".pbm - --psm 3 2>/dev/null") + output_of("OMP_THREAD_LIMIT=1 tesseract " + path + ".pbm - --psm 11 2>/dev/null");
}

std::string without_spaces(std::string text) {
  std::erase(text, ' ');
  return text;
}

TEST(SheetReading, AFaxStillGivesPatientSideNextActAndTime) {
  for (Case c : {waiting_for_act(), resting()}) {
    const auto lines = lines_of(c.input(), fonts());
    const std::string read = read_at_fax_quality(c);
    EXPECT_THAT(read, HasSubstr("TESTCASE, Marianne")) << c.name;
    EXPECT_THAT(read, HasSubstr("T-004711")) << c.name;
    EXPECT_THAT(read, HasSubstr(lines.plates[0].side)) << c.name;
    EXPECT_THAT(read, HasSubstr(lines.next.act)) << c.name;
    EXPECT_THAT(read, HasSubstr(lines.next.time)) << c.name;
    EXPECT_THAT(without_spaces(read), HasSubstr(without_spaces(lines.flat.time))) << c.name;
    EXPECT_THAT(read, HasSubstr("Do not use after")) << c.name;
  }
}

}  // namespace
}  // namespace sheet
