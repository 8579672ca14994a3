#include "picture_support.h"

#include <fontconfig/fontconfig.h>
#include <pango/pangocairo.h>
#include <pango/pangofc-fontmap.h>

#include <sstream>

#include "sheet/pdf.h"
#include "sheet_support.h"

namespace sheet {
namespace {

constexpr int kWidth = 1400, kHeight = 260, kLeft = 40, kBase = 160, kSize = 80;  // dots

Picture from_grey(int width, int height, const unsigned char* grey, int stride) {
  Picture picture{width, height, {}};
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < width; ++x) picture.dark.push_back(grey[y * stride + x] < 128);
  return picture;
}

// Only the files of the sheet: pango would else choose among everything installed.
void use_our_files() {
  static const bool done = [] {
    FcConfig* config = FcConfigCreate();
    const FontList list = distribution_fonts();
    for (const auto* files : {&list.regular, &list.bold})
      for (const auto& file : *files) FcConfigAppFontAddFile(config, reinterpret_cast<const FcChar8*>(file.path.c_str()));
    FcConfigSetCurrent(config);
    return true;
  }();
  (void)done;
}

}  // namespace

Picture drawn_by_us(const std::string& text, Weight weight) {
  Shaper shaper(fonts());
  const Page page{kWidth / 2.0, kHeight / 2.0, {Text{kLeft / 2.0, kBase / 2.0, kSize / 2.0, weight, text}}};
  const auto pdf = pdf_of({page}, shaper, "picture", Instant{});
  const std::string path = scratch("picture.pdf", std::get<std::string>(pdf));
  std::istringstream pgm(output_of("pdftoppm -r 144 -gray -singlefile " + path));
  std::string magic;
  int width = 0, height = 0, most = 0;
  pgm >> magic >> width >> height >> most;
  pgm.get();
  std::string grey((std::istreambuf_iterator<char>(pgm)), {});
  EXPECT_EQ(grey.size(), static_cast<std::size_t>(width) * static_cast<std::size_t>(height));
  return from_grey(width, height, reinterpret_cast<const unsigned char*>(grey.data()), width);
}

Picture drawn_by_pango(const std::string& text, Weight weight) {
  use_our_files();
  cairo_surface_t* surface = cairo_image_surface_create(CAIRO_FORMAT_A8, kWidth, kHeight);
  cairo_t* cairo = cairo_create(surface);
  PangoLayout* layout = pango_cairo_create_layout(cairo);
  cairo_font_options_t* options = cairo_font_options_create();
  cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
  cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
  pango_cairo_context_set_font_options(pango_layout_get_context(layout), options);
  pango_context_set_round_glyph_positions(pango_layout_get_context(layout), FALSE);
  pango_context_set_language(pango_layout_get_context(layout), pango_language_from_string("und"));
  PangoFontDescription* font = pango_font_description_from_string(
      "Noto Sans,Noto Sans Arabic,Noto Sans Hebrew,Noto Sans Devanagari,Noto Sans Thai,Noto Sans CJK SC,DejaVu Sans");
  pango_font_description_set_weight(font, weight == Weight::bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
  pango_font_description_set_absolute_size(font, kSize * PANGO_SCALE);
  pango_layout_set_font_description(layout, font);
  pango_layout_set_text(layout, text.c_str(), -1);
  EXPECT_EQ(pango_layout_get_unknown_glyphs_count(layout), 0) << text;
  cairo_move_to(cairo, kLeft, kBase - pango_units_to_double(pango_layout_get_baseline(layout)));
  pango_cairo_show_layout(cairo, layout);
  cairo_surface_flush(surface);
  const int stride = cairo_image_surface_get_stride(surface);
  const unsigned char* cover = cairo_image_surface_get_data(surface);
  std::vector<unsigned char> grey;
  for (int y = 0; y < kHeight; ++y)
    for (int x = 0; x < kWidth; ++x) grey.push_back(static_cast<unsigned char>(255 - cover[y * stride + x]));
  Picture picture = from_grey(kWidth, kHeight, grey.data(), kWidth);
  pango_font_description_free(font);
  cairo_font_options_destroy(options);
  g_object_unref(layout);
  cairo_destroy(cairo);
  cairo_surface_destroy(surface);
  return picture;
}

namespace {

int alone(const Picture& a, const Picture& b, int reach) {
  int count = 0;
  for (int y = 0; y < a.height; ++y)
    for (int x = 0; x < a.width; ++x) {
      if (!a.at(x, y)) continue;
      bool near = false;
      for (int dy = -reach; dy <= reach && !near; ++dy)
        for (int dx = -reach; dx <= reach && !near; ++dx) near = b.at(x + dx, y + dy);
      count += near ? 0 : 1;
    }
  return count;
}

}  // namespace

int unmatched(const Picture& a, const Picture& b, int reach) { return alone(a, b, reach) + alone(b, a, reach); }

int ink(const Picture& picture) {
  int count = 0;
  for (const unsigned char dot : picture.dark) count += dot;
  return count;
}

}  // namespace sheet
