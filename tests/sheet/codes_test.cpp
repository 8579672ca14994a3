// The codes on rendered pages, read by other programs: zbarimg (Code 128, QR) and dmtxread (Data Matrix).
#include <algorithm>

#include "sheet/place.h"
#include "sheet_support.h"

namespace sheet {
namespace {

using testing::HasSubstr;

constexpr const char* kNumber = "T-004711";

// The foot of the page, from `left` to `right` points from its right edge: as a scanner is held to one code.
std::string picture_of(const Case& c, const std::string& pdf, int dots, double left, double right) {
  const Layout& layout = layout_named(c.paper);
  const auto points = [&](double length) { return std::to_string(static_cast<int>(length * dots / 72)); };
  const std::string out = pdf + "-" + std::to_string(dots);
  output_of("pdftoppm -r " + std::to_string(dots) + " -gray -png -f 1 -l 1 -singlefile -x " + points(layout.width - left) + " -y " + points(layout.height - layout.margin - 75) + " -W " +
            points(left - right) + " -H " + points(75) + " " + pdf + " " + out);
  return out + ".png";
}

TEST(SheetCodes, AreReadFromPrintedPages) {
  for (const char* paper : {"A4", "A5"})
    for (const CodeKind kind : {CodeKind::code_128, CodeKind::data_matrix, CodeKind::qr}) {
      Case c = resting();
      c.paper = paper;
      c.patient_code = kind;
      const std::string pdf = scratch(c.name + ".pdf", pdf_of_case(c).bytes);
      const Layout& layout = layout_named(paper);
      Shaper shaper(fonts());
      const Foot foot = lines_of(c.input(), fonts()).foot;
      const auto width_of = [&](const Foot::Code& code) {
        return std::max(code_size(code.code, layout.code_module, 0).x, shaper.width(code.caption, Weight::regular, layout.small));
      };
      // From the right edge: the patient's where it has two dimensions, then the sheet's.
      const bool bars = kind == CodeKind::code_128;
      const double patients = bars ? 0 : layout.margin + width_of(foot.codes[0]) + 3, sheets = (bars ? layout.margin + 3 : patients + 3) + width_of(foot.codes[1]);
      for (const int dots : {150, 200, 300}) {
        const std::string what = std::string(paper) + " kind " + std::to_string(static_cast<int>(kind)) + " at " + std::to_string(dots);
        EXPECT_THAT(output_of("dmtxread -m 4000 -N 1 " + picture_of(c, pdf, dots, sheets, bars ? layout.margin - 6 : patients)),
                    HasSubstr("1;3;bbbbbbbbbbbb;" + c.input().protocol.id + " " + c.input().protocol.version)) << what;
        EXPECT_THAT(output_of((kind == CodeKind::data_matrix ? "dmtxread -m 4000 -N 1 " : "zbarimg -q --raw ") +
                              (bars ? picture_of(c, pdf, dots, layout.width, 0) : picture_of(c, pdf, dots, patients, layout.margin - 6))), HasSubstr(kNumber)) << what;
      }
    }
}

TEST(SheetCodes, NoneIsPrintedUnlessTheSiteChoosesOne) {
  const Case c = resting();
  EXPECT_EQ(lines_of(c.input(), fonts()).foot.codes.size(), 1U) << "the sheet's own";
}

TEST(SheetCodes, NothingOfThePatientStandsInTheSheetsOwn) {
  Case c = resting();
  c.patient_code = CodeKind::qr;
  const auto codes = lines_of(c.input(), fonts()).foot.codes;
  ASSERT_EQ(codes.size(), 2U);
  EXPECT_EQ(codes[0].caption, "record number");
  EXPECT_EQ(codes[1].caption, "this sheet");
}

TEST(SheetCodes, AnUnknownNumberGetsNoCode) {
  Case c = resting();
  c.patient_code = CodeKind::code_128;
  c.plan.patient.record_number.clear();
  EXPECT_EQ(lines_of(c.input(), fonts()).foot.codes.size(), 1U);
}

TEST(SheetCodes, WhatCannotBeCodedIsSaidAndTheSheetStillComes) {
  Case c = resting();
  c.patient_code = CodeKind::code_128;
  c.plan.patient.record_number = "номер-7";
  const Pdf pdf = pdf_of_case(c);
  EXPECT_THAT(pdf.warnings, testing::Contains(HasSubstr("code-128")));
  EXPECT_TRUE(std::holds_alternative<std::string>(barcode_of(CodeKind::qr, "")));
  EXPECT_TRUE(std::holds_alternative<std::string>(barcode_of(CodeKind::qr, std::string(61, 'x'))));
}

TEST(SheetCodes, NamesAsConfigured) {
  EXPECT_EQ(code_named("code-128"), CodeKind::code_128);
  EXPECT_EQ(code_named("data-matrix"), CodeKind::data_matrix);
  EXPECT_EQ(code_named("qr"), CodeKind::qr);
  EXPECT_EQ(code_named("none"), std::nullopt);
}

}  // namespace
}  // namespace sheet
