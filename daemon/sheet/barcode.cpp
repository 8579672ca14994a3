#include "sheet/barcode.h"

#include <fmt/format.h>
#include <zint.h>

#include <algorithm>
#include <memory>

namespace sheet {
namespace {

struct SymbolRelease {
  void operator()(zint_symbol* symbol) const { ZBarcode_Delete(symbol); }
};

struct KindRow {
  CodeKind kind;
  std::string_view name;
  int symbology;
  double quiet;
};
// Quiet zones: Code 128 ten modules at each end (ISO/IEC 15417), Data Matrix one (ISO/IEC 16022; two here, scanners at the bed find it sooner), QR four (ISO/IEC 18004).
constexpr KindRow kKinds[] = {{CodeKind::code_128, "code-128", BARCODE_CODE128, 10}, {CodeKind::data_matrix, "data-matrix", BARCODE_DATAMATRIX, 2}, {CodeKind::qr, "qr", BARCODE_QRCODE, 4}};
constexpr std::size_t kLongest = 60;

}  // namespace

std::optional<CodeKind> code_named(std::string_view name) {
  for (const auto& row : kKinds)
    if (row.name == name) return row.kind;
  return std::nullopt;
}

std::variant<Barcode, std::string> barcode_of(CodeKind kind, const std::string& text) {
  const auto& row = *std::ranges::find(kKinds, kind, &KindRow::kind);
  if (text.empty()) return std::string("there is nothing to put into a code");
  if (text.size() > kLongest) return fmt::format("'{}' is too long for a code on the sheet ({} bytes, at most {})", text, text.size(), kLongest);
  const std::unique_ptr<zint_symbol, SymbolRelease> symbol{ZBarcode_Create()};
  if (!symbol) return std::string("no memory for a code");
  symbol->symbology = row.symbology;
  symbol->input_mode = UNICODE_MODE;
  if (kind == CodeKind::data_matrix) symbol->option_3 = DM_SQUARE;
  symbol->show_hrt = 0;
  symbol->scale = 0.5F;  // a vector module is then one unit
  const int answer = ZBarcode_Encode_and_Buffer_Vector(symbol.get(), reinterpret_cast<const unsigned char*>(text.data()), static_cast<int>(text.size()), 0);
  if (answer >= ZINT_ERROR || !symbol->vector) return fmt::format("'{}' cannot be written as {}: {}", text, row.name, symbol->errtxt);
  Barcode code{kind, 0, 0, row.quiet, {}};
  double left = 1e9, top = 1e9;
  for (const auto* r = symbol->vector->rectangles; r; r = r->next) {
    code.black.push_back({r->x, r->y, r->width, r->height});
    left = std::min<double>(left, r->x), top = std::min<double>(top, r->y);
  }
  if (code.black.empty()) return fmt::format("'{}' gave an empty code", text);
  for (auto& r : code.black) {
    r.x -= left, r.y -= top;
    if (kind == CodeKind::code_128) r.y = 0, r.height = 1;
    code.width = std::max(code.width, r.x + r.width), code.height = std::max(code.height, r.y + r.height);
  }
  return code;
}

}  // namespace sheet
