#include "sheet/sheet.h"

#include <fmt/format.h>

#include "sheet/place.h"

namespace sheet {

std::variant<Pdf, Refusal> render(const SheetInput& in, const Fonts& fonts) {
  const SheetLines lines = lines_of(in, fonts);
  Shaper shaper(fonts, in.words.right_to_left() ? Direction::right_to_left : Direction::first_letter);
  const auto pages = place(lines, in.layout, shaper);
  auto bytes = pdf_of(pages, shaper, fmt::format("Bedside sheet {}", in.number), in.as_of);
  if (const auto* fault = std::get_if<PdfFault>(&bytes)) return Refusal{fault->text};
  Pdf pdf{std::get<std::string>(std::move(bytes)), static_cast<int>(pages.size()), {}};
  if (!lines.head.warning.empty()) pdf.warnings.push_back(lines.head.warning);
  pdf.warnings.insert(pdf.warnings.end(), lines.foot.code_faults.begin(), lines.foot.code_faults.end());
  for (const auto& letter : shaper.replaced()) pdf.warnings.push_back(fmt::format("the letter {} is in no font and is printed as [{}]", letter, letter));
  return pdf;
}

}  // namespace sheet
