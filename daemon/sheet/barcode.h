// Codes for scanners, drawn by zint as rectangles.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace sheet {

enum class CodeKind { code_128, data_matrix, qr };

/// "code-128", "data-matrix", "qr" as the configuration spells them.
std::optional<CodeKind> code_named(std::string_view);

/// Black rectangles in modules, x to the right, y down, without the quiet zone. A bar code is one module high and is stretched by whoever places it.
struct Barcode {
  struct Rectangle {
    double x = 0, y = 0, width = 0, height = 0;
  };
  CodeKind kind{};
  double width = 0, height = 0;
  double quiet = 0;        ///< modules of white that must stand around it (ISO/IEC 15417, 16022, 18004)
  std::vector<Rectangle> black;
};

/// The text exactly, in UTF-8. A sentence for people where it cannot be coded: empty, too long, or letters that the kind does not have.
std::variant<Barcode, std::string> barcode_of(CodeKind, const std::string& text);

}  // namespace sheet
