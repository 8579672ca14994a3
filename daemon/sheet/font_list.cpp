#include <initializer_list>

#include "sheet/font_faces.h"

namespace sheet {

FontList distribution_fonts() {
  FontList list;
  const std::string noto = "/usr/share/fonts/truetype/noto/Noto";
  for (const char* script :
       {"Sans", "SansArabic", "SansHebrew", "SansDevanagari", "SansThai", "SansBengali", "SansTamil", "SansTelugu", "SansGujarati", "SansGurmukhi",
        "SansKannada", "SansMalayalam", "SansSinhala", "SansOriya", "SansMyanmar", "SansKhmer", "SansLao", "SansGeorgian", "SansArmenian", "SansEthiopic"}) {
    list.regular.push_back({noto + script + "-Regular.ttf", 0});
    list.bold.push_back({noto + script + "-Bold.ttf", 0});
  }
  // Face 2 of the collection draws Han characters as they are written in simplified Chinese; a ward elsewhere names another one.
  list.regular.push_back({"/usr/share/fonts/opentype/noto/NotoSansCJK-Regular.ttc", 2});
  list.bold.push_back({"/usr/share/fonts/opentype/noto/NotoSansCJK-Bold.ttc", 2});
  list.regular.push_back({"/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf", 0});
  list.bold.push_back({"/usr/share/fonts/truetype/dejavu/DejaVuSans-Bold.ttf", 0});
  return list;
}

Letters letters_of(std::string_view utf8) {
  Letters letters;
  letters.text.reserve(utf8.size());
  letters.at.reserve(utf8.size() + 1);
  for (std::size_t i = 0; i < utf8.size();) {
    letters.at.push_back(i);
    const auto lead = static_cast<unsigned char>(utf8[i]);
    const std::size_t length = lead < 0x80 ? 1 : lead >= 0xC2 && lead < 0xE0 ? 2 : lead >= 0xE0 && lead < 0xF0 ? 3 : lead >= 0xF0 && lead < 0xF5 ? 4 : 0;
    char32_t letter = length == 1 ? lead : length == 0 ? 0xFFFD : lead & (0xFFU >> (length + 1));
    std::size_t used = 1;
    for (; used < length && i + used < utf8.size() && (static_cast<unsigned char>(utf8[i + used]) & 0xC0U) == 0x80; ++used)
      letter = (letter << 6U) | (static_cast<unsigned char>(utf8[i + used]) & 0x3FU);
    const bool too_long = (length == 3 && letter < 0x800) || (length == 4 && letter < 0x10000);
    if (used < length || too_long || letter > 0x10FFFF || (letter >= 0xD800 && letter < 0xE000)) letter = 0xFFFD;
    letters.text.push_back(letter);
    i += used;
  }
  letters.at.push_back(utf8.size());
  return letters;
}

bool is_invisible(char32_t c) {
  return c == 0xAD || c == 0x34F || c == 0x61C || (c >= 0x180B && c <= 0x180F) || (c >= 0x200B && c <= 0x200F) || (c >= 0x202A && c <= 0x202E) ||
         (c >= 0x2060 && c <= 0x206F) || (c >= 0xFE00 && c <= 0xFE0F) || c == 0xFEFF || (c >= 0xE0000 && c <= 0xE0FFF);
}

bool is_mark(char32_t c) {
  const auto category = hb_unicode_general_category(hb_unicode_funcs_get_default(), c);
  return category == HB_UNICODE_GENERAL_CATEGORY_NON_SPACING_MARK || category == HB_UNICODE_GENERAL_CATEGORY_SPACING_MARK ||
         category == HB_UNICODE_GENERAL_CATEGORY_ENCLOSING_MARK;
}

}  // namespace sheet
