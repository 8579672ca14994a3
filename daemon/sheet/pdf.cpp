#include "sheet/pdf.h"

#include <fmt/format.h>
#include <hpdf.h>
#include <hpdf_objects.h>
#include <hpdf_pages.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>
#include <memory>

#include "sheet/glyph_book.h"

namespace sheet {
namespace {

struct DocRelease {
  void operator()(HPDF_Doc doc) const { HPDF_Free(doc); }
};

struct Trouble {
  HPDF_STATUS error = 0, detail = 0;
};

void note_error(HPDF_STATUS error, HPDF_STATUS detail, void* data) {
  auto& trouble = *static_cast<Trouble*>(data);
  if (trouble.error == 0) trouble = {error, detail};
}

/// One page's boxes as content operators; y turned upwards.
class Drawing {
 public:
  Drawing(const Page& page, Shaper& shaper, GlyphBook& book) : height_(page.height), shaper_(shaper), book_(book) {
    for (const Box& box : page.boxes) std::visit(*this, box);
  }
  std::string take() { return std::move(out_); }

  void operator()(const Text& t) {
    if (t.text.empty()) return;
    out_ += book_.show(shaper_.shaped(t.text, t.weight), t.text, {t.x, up(t.y), t.size, t.shade, t.angle});
  }
  void operator()(const Bar& bar) {
    if (bar.fill) put("{:.3g} g {:.2f} {:.2f} {:.2f} {:.2f} re f\n", *bar.fill, bar.x, up(bar.y + bar.height), bar.width, bar.height);
    if (bar.hatch > 0) hatch(bar);
    if (bar.line > 0) put("0 G {:.2f} w {:.2f} {:.2f} {:.2f} {:.2f} re S\n", bar.line, bar.x, up(bar.y + bar.height), bar.width, bar.height);
  }
  void operator()(const Stroke& s) {
    if (s.points.size() < 2) return;
    if (s.dashed) out_ += "[3 2] 0 d ";
    put("{:.3g} G {:.2f} w {:.2f} {:.2f} m\n", s.shade, s.line, s.points[0].x, up(s.points[0].y));
    if (s.fill) put("{:.3g} g ", *s.fill);
    if (s.curved)
      for (std::size_t i = 1; i + 2 < s.points.size(); i += 3)
        put("{:.2f} {:.2f} {:.2f} {:.2f} {:.2f} {:.2f} c\n", s.points[i].x, up(s.points[i].y), s.points[i + 1].x, up(s.points[i + 1].y), s.points[i + 2].x, up(s.points[i + 2].y));
    else
      for (std::size_t i = 1; i < s.points.size(); ++i) put("{:.2f} {:.2f} l\n", s.points[i].x, up(s.points[i].y));
    out_ += s.fill ? (s.line > 0 ? "b\n" : "h f\n") : "S\n";
    if (s.dashed) out_ += "[] 0 d\n";
  }

 private:
  template <class... A>
  void put(fmt::format_string<A...> format, A&&... arguments) {
    fmt::format_to(std::back_inserter(out_), format, std::forward<A>(arguments)...);
  }
  double up(double y) const { return height_ - y; }

  void hatch(const Bar& bar) {
    put("q {:.2f} {:.2f} {:.2f} {:.2f} re W n 0 G 0.5 w\n", bar.x, up(bar.y + bar.height), bar.width, bar.height);
    for (double x = bar.x - bar.height; x < bar.x + bar.width; x += bar.hatch)
      put("{:.2f} {:.2f} m {:.2f} {:.2f} l\n", x, up(bar.y + bar.height), x + bar.height, up(bar.y));
    out_ += "S Q\n";
  }

  double height_;
  Shaper& shaper_;
  GlyphBook& book_;
  std::string out_;
};

/// What libharu has no call for: a Type 3 font, made of its own dictionaries and streams.
class FontWriter {
 public:
  FontWriter(HPDF_Doc doc, const GlyphBook& book, const Fonts& fonts) : doc_(doc), book_(book), fonts_(fonts) {}

  /// Null when libharu has failed.
  HPDF_Dict write(int font) {
    const auto first = static_cast<std::size_t>(font) * 256, end = std::min(book_.entries().size(), first + 256);
    HPDF_Dict dict = dictionary(), procedures = HPDF_Dict_New(doc_->mmgr), encoding = HPDF_Dict_New(doc_->mmgr);
    HPDF_Array widths = HPDF_Array_New(doc_->mmgr), names = HPDF_Array_New(doc_->mmgr);
    if (!dict || !procedures || !encoding || !widths || !names) return nullptr;
    HPDF_Array_AddNumber(names, 0);
    const std::size_t letter = half_wide(first, end);
    for (std::size_t i = first; i < end; ++i) {
      const auto& entry = book_.entries()[i];
      const std::string name = i == letter ? "n" : fmt::format("g{}", i - first);
      HPDF_Dict_Add(procedures, name.c_str(), deflated_stream(fonts_.outline(entry.face, entry.id)));
      HPDF_Array_AddName(names, name.c_str());
      HPDF_Array_AddNumber(widths, entry.width);
    }
    HPDF_Dict_AddName(encoding, "Type", "Encoding");
    HPDF_Dict_Add(encoding, "Differences", names);
    HPDF_Dict_AddName(dict, "Type", "Font");
    HPDF_Dict_AddName(dict, "Subtype", "Type3");
    HPDF_Dict_Add(dict, "FontBBox", numbers({0, 0, 0, 0}));
    HPDF_Dict_Add(dict, "FontMatrix", numbers({0.001F, 0, 0, 0.001F, 0, 0}));
    HPDF_Dict_Add(dict, "CharProcs", procedures);
    HPDF_Dict_Add(dict, "Encoding", encoding);
    HPDF_Dict_AddNumber(dict, "FirstChar", 0);
    HPDF_Dict_AddNumber(dict, "LastChar", static_cast<HPDF_INT32>(end - first) - 1);
    HPDF_Dict_Add(dict, "Widths", widths);
    HPDF_Dict_Add(dict, "Resources", HPDF_Dict_New(doc_->mmgr));
    HPDF_Dict_Add(dict, "ToUnicode", stream(to_unicode(first, end)));
    return dict;
  }

 private:
  HPDF_Dict dictionary() {
    HPDF_Dict dict = HPDF_Dict_New(doc_->mmgr);
    if (dict && HPDF_Xref_Add(doc_->xref, dict) != HPDF_OK) return nullptr;
    return dict;
  }
  HPDF_Array numbers(std::initializer_list<float> values) {
    HPDF_Array array = HPDF_Array_New(doc_->mmgr);
    if (array)
      for (const float v : values) HPDF_Array_AddReal(array, v);
    return array;
  }
  HPDF_Dict stream(const std::string& text) {
    HPDF_Dict dict = HPDF_DictStream_New(doc_->mmgr, doc_->xref);
    if (!dict) return nullptr;
    dict->filter = HPDF_STREAM_FILTER_FLATE_DECODE;
    HPDF_Stream_Write(dict->stream, reinterpret_cast<const HPDF_BYTE*>(text.data()), static_cast<HPDF_UINT>(text.size()));
    return dict;
  }
  // libharu would deflate each of some 170 glyphs anew, which costs more than all the rest: they come deflated, and say so themselves.
  HPDF_Dict deflated_stream(const std::string& bytes) {
    HPDF_Dict dict = HPDF_DictStream_New(doc_->mmgr, doc_->xref);
    if (!dict) return nullptr;
    dict->write_fn = [](HPDF_Dict, HPDF_Stream out) -> HPDF_STATUS { return HPDF_Stream_WriteStr(out, "/Filter /FlateDecode\012"); };
    HPDF_Stream_Write(dict->stream, reinterpret_cast<const HPDF_BYTE*>(bytes.data()), static_cast<HPDF_UINT>(bytes.size()));
    return dict;
  }
  // Poppler takes the width of a glyph that is named as a letter for half the size of a Type 3 font; by that it tells words and lines apart.
  std::size_t half_wide(std::size_t first, std::size_t end) const {
    const auto begin = book_.entries().begin();
    const auto found = std::min_element(begin + static_cast<std::ptrdiff_t>(first), begin + static_cast<std::ptrdiff_t>(end),
                                        [](const auto& a, const auto& b) { return std::abs(a.width - 500) < std::abs(b.width - 500); });
    return static_cast<std::size_t>(found - begin);
  }
  std::string to_unicode(std::size_t first, std::size_t end) const {
    std::string lines;
    std::vector<std::string> pairs;
    for (std::size_t i = first; i < end; ++i)
      pairs.push_back(fmt::format("<{:02X}> <{}>\n", i - first, utf16_hex(book_.entries()[i].text)));
    for (std::size_t i = 0; i < pairs.size(); i += 100) {
      const std::size_t to = std::min(pairs.size(), i + 100);
      lines += fmt::format("{} beginbfchar\n", to - i);
      for (std::size_t k = i; k < to; ++k) lines += pairs[k];
      lines += "endbfchar\n";
    }
    return "/CIDInit /ProcSet findresource begin 12 dict begin begincmap\n"
           "/CIDSystemInfo <</Registry (Adobe) /Ordering (UCS) /Supplement 0>> def\n/CMapName /Adobe-Identity-UCS def /CMapType 2 def\n"
           "1 begincodespacerange\n<00> <FF>\nendcodespacerange\n" + lines + "endcmap CMapName currentdict /CMap defineresource pop end end\n";
  }

  HPDF_Doc doc_;
  const GlyphBook& book_;
  const Fonts& fonts_;
};

HPDF_Date date_of(clinical::Instant at) {
  using namespace std::chrono;
  const auto day = floor<days>(at);
  const year_month_day date{day};
  const hh_mm_ss time{at - day};
  return {static_cast<int>(date.year()), static_cast<int>(static_cast<unsigned>(date.month())), static_cast<int>(static_cast<unsigned>(date.day())),
          static_cast<int>(time.hours().count()), static_cast<int>(time.minutes().count()), static_cast<int>(time.seconds().count()), 'Z', 0, 0};
}

void add_page(HPDF_Doc doc, const Page& page, const std::string& content, const std::vector<HPDF_Dict>& fonts) {
  HPDF_Page handle = HPDF_AddPage(doc);
  if (!handle) return;
  HPDF_Page_SetWidth(handle, static_cast<float>(page.width));
  HPDF_Page_SetHeight(handle, static_cast<float>(page.height));
  auto* attributes = static_cast<HPDF_PageAttr>(handle->attr);
  HPDF_Stream_Write(attributes->stream, reinterpret_cast<const HPDF_BYTE*>(content.data()), static_cast<HPDF_UINT>(content.size()));
  auto resources = static_cast<HPDF_Dict>(HPDF_Page_GetInheritableItem(handle, "Resources", HPDF_OCLASS_DICT));
  HPDF_Dict list = HPDF_Dict_New(doc->mmgr);
  if (!resources || !list) return;
  HPDF_Dict_Add(resources, "Font", list);
  for (std::size_t i = 0; i < fonts.size(); ++i) HPDF_Dict_Add(list, fmt::format("T{}", i).c_str(), fonts[i]);
}

std::string saved(HPDF_Doc doc) {
  std::string bytes;
  if (HPDF_SaveToStream(doc) != HPDF_OK) return bytes;
  bytes.resize(HPDF_GetStreamSize(doc));
  auto size = static_cast<HPDF_UINT32>(bytes.size());
  HPDF_ResetStream(doc);
  HPDF_ReadFromStream(doc, reinterpret_cast<HPDF_BYTE*>(bytes.data()), &size);
  bytes.resize(size);
  return bytes;
}

}  // namespace

std::variant<std::string, PdfFault> pdf_of(const std::vector<Page>& pages, Shaper& shaper, std::string_view title, clinical::Instant created) {
  Trouble trouble;
  const std::unique_ptr<std::remove_pointer_t<HPDF_Doc>, DocRelease> owner{HPDF_New(note_error, &trouble)};
  HPDF_Doc doc = owner.get();
  if (!doc) return PdfFault{"libharu could not start a document"};
  HPDF_SetCompressionMode(doc, HPDF_COMP_ALL);
  HPDF_SetInfoAttr(doc, HPDF_INFO_TITLE, std::string(title).c_str());
  HPDF_SetInfoAttr(doc, HPDF_INFO_CREATOR, "Aftersheath");
  HPDF_SetInfoDateAttr(doc, HPDF_INFO_CREATION_DATE, date_of(created));
  GlyphBook book;
  std::vector<std::string> contents;
  for (const Page& page : pages) contents.push_back(Drawing(page, shaper, book).take());
  FontWriter writer(doc, book, shaper.fonts());
  std::vector<HPDF_Dict> fonts;
  for (int i = 0; i < book.fonts(); ++i)
    if (HPDF_Dict font = writer.write(i)) fonts.push_back(font);
  for (std::size_t i = 0; i < pages.size(); ++i) add_page(doc, pages[i], contents[i], fonts);
  std::string bytes = trouble.error == 0 ? saved(doc) : std::string{};
  if (trouble.error != 0 || bytes.empty()) return PdfFault{fmt::format("libharu failed: error 0x{:04X}, detail {}", trouble.error, trouble.detail)};
  return bytes;
}

}  // namespace sheet
