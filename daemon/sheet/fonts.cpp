#include "sheet/fonts.h"

#include <fmt/format.h>
#include <zlib.h>

#include <algorithm>
#include <cmath>
#include <iterator>

#include "sheet/font_faces.h"

namespace sheet {
namespace {

constexpr int kEm = 1000;

Face open_face(const FontFile& file) {
  hb_blob_t* blob = hb_blob_create_from_file_or_fail(file.path.c_str());
  if (!blob) return {};
  hb_face_t* face = hb_face_create(blob, file.index);
  hb_blob_destroy(blob);
  if (hb_face_get_glyph_count(face) == 0) {
    hb_face_destroy(face);
    return {};
  }
  Face font{hb_font_create(face)};
  hb_face_destroy(face);
  hb_font_set_scale(font.get(), kEm, kEm);
  hb_font_make_immutable(font.get());
  return font;
}

// Operators of one outline; whole units are finer than any printer's dots at the sizes in use.
struct Pen {
  std::string path;
  Point at;

  static long whole(double v) { return std::lround(v); }
  void op(std::initializer_list<Point> points, char name) {
    for (const Point& p : points) fmt::format_to(std::back_inserter(path), "{} {} ", whole(p.x), whole(p.y));
    path += name;
    path += '\n';
    if (points.size() > 0) at = *(points.end() - 1);
  }
};
Pen& pen_of(void* data) { return *static_cast<Pen*>(data); }

void move_to(hb_draw_funcs_t*, void* data, hb_draw_state_t*, float x, float y, void*) { pen_of(data).op({{x, y}}, 'm'); }
void line_to(hb_draw_funcs_t*, void* data, hb_draw_state_t*, float x, float y, void*) { pen_of(data).op({{x, y}}, 'l'); }
void cubic_to(hb_draw_funcs_t*, void* data, hb_draw_state_t*, float ax, float ay, float bx, float by, float x, float y, void*) {
  pen_of(data).op({{ax, ay}, {bx, by}, {x, y}}, 'c');
}
// PDF has cubic curves only: control points two thirds of the way to the quadratic one.
void quadratic_to(hb_draw_funcs_t*, void* data, hb_draw_state_t*, float cx, float cy, float x, float y, void*) {
  Pen& pen = pen_of(data);
  const auto third = [](double end, double control) { return end + (control - end) * 2 / 3; };
  pen.op({{third(pen.at.x, cx), third(pen.at.y, cy)}, {third(x, cx), third(y, cy)}, {x, y}}, 'c');
}
void close_path(hb_draw_funcs_t*, void* data, hb_draw_state_t*, void*) { pen_of(data).path += "h\n"; }

hb_draw_funcs_t* draw_functions() {
  static hb_draw_funcs_t* const functions = [] {
    hb_draw_funcs_t* f = hb_draw_funcs_create();
    hb_draw_funcs_set_move_to_func(f, move_to, nullptr, nullptr);
    hb_draw_funcs_set_line_to_func(f, line_to, nullptr, nullptr);
    hb_draw_funcs_set_quadratic_to_func(f, quadratic_to, nullptr, nullptr);
    hb_draw_funcs_set_cubic_to_func(f, cubic_to, nullptr, nullptr);
    hb_draw_funcs_set_close_path_func(f, close_path, nullptr, nullptr);
    hb_draw_funcs_make_immutable(f);
    return f;
  }();
  return functions;
}

std::string drawn(hb_font_t* font, std::uint32_t id) {
  hb_glyph_extents_t box{};
  hb_font_get_glyph_extents(font, id, &box);
  Pen pen;
  hb_font_get_glyph_shape(font, id, draw_functions(), &pen);
  std::string out = fmt::format("{} 0 {} {} {} {} d1\n", hb_font_get_glyph_h_advance(font, id), box.x_bearing - 1, box.y_bearing + box.height - 1,
                                box.x_bearing + box.width + 1, box.y_bearing + 1);
  return pen.path.empty() ? out : out + pen.path + "f\n";
}

std::string deflated(const std::string& text) {
  uLongf size = compressBound(text.size());
  std::string out(size, '\0');
  compress2(reinterpret_cast<Bytef*>(out.data()), &size, reinterpret_cast<const Bytef*>(text.data()), text.size(), Z_BEST_COMPRESSION);
  out.resize(size);
  return out;
}

// The face for each letter: of a base with its marks the first face that has them all, else the first that has the base.
std::vector<int> faces_of(const std::u32string& text, const std::vector<int>& chain, const auto& has) {
  std::vector<int> faces(text.size(), chain.front());
  for (std::size_t i = 0; i < text.size();) {
    if (text[i] == ' ' && i > 0 && has(faces[i - 1], U' ')) {  // a space is as wide as its word's face has it
      faces[i] = faces[i - 1];
      ++i;
      continue;
    }
    std::size_t end = i + 1;
    while (end < text.size() && (is_mark(text[end]) || is_invisible(text[end]))) ++end;
    const auto covers = [&](int face, std::size_t to) {
      return std::all_of(text.begin() + static_cast<std::ptrdiff_t>(i), text.begin() + static_cast<std::ptrdiff_t>(to),
                         [&](char32_t c) { return is_invisible(c) || has(face, c); });
    };
    auto found = std::ranges::find_if(chain, [&](int face) { return covers(face, end); });
    if (found == chain.end()) found = std::ranges::find_if(chain, [&](int face) { return covers(face, i + 1); });
    for (std::size_t k = i; k < end; ++k) faces[k] = found == chain.end() ? chain.front() : *found;
    i = end;
  }
  return faces;
}

// The letter after the cluster of a glyph: clusters rise from left to right, in a run right to left they fall.
std::size_t cluster_end(const hb_glyph_info_t* info, unsigned count, unsigned i, const Run& run) {
  if (run.level % 2 == 1) return i == 0 ? run.end : info[i - 1].cluster;
  const auto* next = std::find_if(info + i, info + count, [&](const hb_glyph_info_t& g) { return g.cluster != info[i].cluster; });
  return next == info + count ? run.end : next->cluster;
}

bool is_isolate(char32_t c) { return c >= 0x2066 && c <= 0x2069; }

struct BufferRelease {
  void operator()(hb_buffer_t* buffer) const { hb_buffer_destroy(buffer); }
};

}  // namespace

std::variant<Fonts, std::string> Fonts::load(const FontList& list) {
  auto faces = std::make_shared<Faces>();
  const auto add = [&](const std::vector<FontFile>& files, std::vector<int>& chain) {
    for (const auto& file : files)
      if (Face face = open_face(file)) {
        chain.push_back(static_cast<int>(faces->faces.size()));
        faces->faces.push_back(std::move(face));
      }
  };
  if (list.regular.empty() || !open_face(list.regular.front()))
    return fmt::format("the font {} cannot be read: install the package fonts-noto-core, or name another file",
                       list.regular.empty() ? "(none named)" : list.regular.front().path);
  add(list.regular, faces->regular);
  add(list.bold, faces->bold);
  faces->bold.insert(faces->bold.end(), faces->regular.begin(), faces->regular.end());
  return Fonts{std::move(faces)};
}

ShapedText Fonts::shape(std::string_view utf8, Weight weight, Direction direction) const {
  const Letters letters = letters_of(utf8);
  const auto faces = faces_of(letters.text, faces_->chain(weight), [&](int face, char32_t c) { return faces_->has(face, c); });
  ShapedText shaped;
  const std::unique_ptr<hb_buffer_t, BufferRelease> owner{hb_buffer_create()};
  hb_buffer_t* buffer = owner.get();
  for (const Run& run : runs_of(letters.text, faces, direction)) {
    hb_buffer_reset(buffer);
    hb_buffer_add_utf32(buffer, reinterpret_cast<const std::uint32_t*>(letters.text.data()), static_cast<int>(letters.text.size()),
                        static_cast<unsigned>(run.begin), static_cast<int>(run.end - run.begin));
    hb_buffer_set_direction(buffer, run.level % 2 == 1 ? HB_DIRECTION_RTL : HB_DIRECTION_LTR);
    hb_buffer_set_script(buffer, run.script);
    hb_buffer_set_language(buffer, hb_language_from_string("und", -1));
    hb_shape(faces_->faces[static_cast<std::size_t>(run.face)].get(), buffer, nullptr, 0);
    unsigned count = 0;
    const hb_glyph_info_t* info = hb_buffer_get_glyph_infos(buffer, &count);
    const hb_glyph_position_t* place = hb_buffer_get_glyph_positions(buffer, &count);
    for (unsigned i = 0; i < count; ++i) {
      // Of a cluster the first glyph drawn carries the text.
      std::string text;
      if (i == 0 || info[i - 1].cluster != info[i].cluster) {
        const std::size_t end = cluster_end(info, count, i, run);
        text = utf8.substr(letters.at[info[i].cluster], letters.at[end] - letters.at[info[i].cluster]);
        if (is_isolate(letters.text[info[i].cluster])) {  // it has done its work
          shaped.plain = false;
          continue;
        }
      } else {
        shaped.plain = shaped.plain && run.level % 2 == 1;
      }
      shaped.glyphs.push_back({run.face, info[i].codepoint, shaped.width + place[i].x_offset, place[i].y_offset, place[i].x_advance, std::move(text)});
      shaped.width += place[i].x_advance;
    }
  }
  return shaped;
}

std::vector<std::string> Fonts::uncovered(std::string_view utf8) const {
  std::vector<std::string> found;
  for (const char32_t c : letters_of(utf8).text) {
    const bool drawn_by_none = std::ranges::none_of(faces_->regular, [&](int face) { return faces_->has(face, c); });
    if (c != 0xFFFD && (c < 0x20 || c == 0x7F || is_invisible(c) || !drawn_by_none)) continue;
    std::string name = fmt::format("U+{:04X}", static_cast<std::uint32_t>(c));
    if (std::ranges::find(found, name) == found.end()) found.push_back(std::move(name));
  }
  return found;
}

std::string Fonts::printable(std::string_view utf8) const {
  const Letters letters = letters_of(utf8);
  std::string out;
  for (std::size_t i = 0; i < letters.text.size(); ++i) {
    const char32_t c = letters.text[i];
    const auto bytes = utf8.substr(letters.at[i], letters.at[i + 1] - letters.at[i]);
    if (c == '\t' || c == '\n' || c == '\r' || c == 0x85 || c == 0x2028 || c == 0x2029) out += ' ';
    else if (c < 0x20 || c == 0x7F) continue;
    else if (const auto gaps = c < 0x7F ? std::vector<std::string>{} : uncovered(bytes); !gaps.empty()) out += "[" + gaps.front() + "]";
    else out += bytes;
  }
  return out;
}

const std::string& Fonts::outline(int face, std::uint32_t id) const {
  const std::scoped_lock lock{faces_->mutex};
  auto& text = faces_->outlines[{face, id}];
  if (text.empty()) text = deflated(drawn(faces_->faces[static_cast<std::size_t>(face)].get(), id));
  return text;
}

}  // namespace sheet
