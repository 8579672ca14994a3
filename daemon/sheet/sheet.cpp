#include "sheet/sheet.h"

#include <fmt/format.h>

#include "sheet/place.h"

namespace sheet {

std::optional<Paper> paper_named(std::string_view name) {
  if (name == "A4") return Paper::a4;
  if (name == "Letter") return Paper::letter;
  if (name == "A5") return Paper::a5;
  return std::nullopt;
}

std::variant<Pdf, Refusal> render(const SheetInput& in, const Fonts& fonts) {
  const SheetLines lines = lines_of(in, fonts);
  Shaper shaper(fonts);
  const auto pages = place(lines, layout_for(in.paper), shaper);
  auto bytes = pdf_of(pages, shaper, fmt::format("Bedside sheet {}", in.number), in.as_of);
  if (const auto* fault = std::get_if<PdfFault>(&bytes)) return Refusal{fault->text};
  Pdf pdf{std::get<std::string>(std::move(bytes)), static_cast<int>(pages.size()), {}};
  if (!lines.head.warning.empty()) pdf.warnings.push_back(lines.head.warning);
  for (const auto& letter : shaper.replaced()) pdf.warnings.push_back(fmt::format("the letter {} is in no font and is printed as [{}]", letter, letter));
  return pdf;
}

}  // namespace sheet
