// Pages as pictures against pictures kept in tests/sheet/golden: what moves, vanishes or changes its weight is seen here first. At 38 dots an inch, eight greys.
// After a change that is meant:  AFTERSHEATH_GOLDEN=write build/bin/sheet_test --gtest_filter='SheetGolden*', then look at what git shows.
#include <cairo.h>

#include <cstdlib>
#include <filesystem>
#include <sstream>

#include "sheet_support.h"

namespace sheet {
namespace {

constexpr int kDots = 38;
/// Greys by which one dot may differ (of 255), and the share of dots that may differ by more: another version of the renderer, not another sheet.
constexpr int kGrey = 64;
constexpr double kShare = 0.0004;

struct Grey {
  int width = 0, height = 0;
  std::string dots;
};

std::vector<Grey> pages_of(const Case& c) {
  const Pdf pdf = pdf_of_case(c);
  const std::string path = scratch("golden.pdf", pdf.bytes);
  std::vector<Grey> pages;
  for (int page = 1; page <= pdf.pages; ++page) {
    const auto n = std::to_string(page);
    std::istringstream pgm(output_of("pdftoppm -r " + std::to_string(kDots) + " -gray -f " + n + " -l " + n + " -singlefile " + path));
    std::string magic;
    Grey picture;
    int most = 0;
    pgm >> magic >> picture.width >> picture.height >> most;
    pgm.get();
    picture.dots.assign(std::istreambuf_iterator<char>(pgm), {});
    for (char& dot : picture.dots) dot = static_cast<char>(static_cast<unsigned char>(dot) / 32 * 36);
    pages.push_back(std::move(picture));
  }
  return pages;
}

void write(const Grey& picture, const std::string& path) {
  cairo_surface_t* surface = cairo_image_surface_create(CAIRO_FORMAT_A8, picture.width, picture.height);
  cairo_surface_flush(surface);
  unsigned char* data = cairo_image_surface_get_data(surface);
  const int stride = cairo_image_surface_get_stride(surface);
  for (int y = 0; y < picture.height; ++y)
    for (int x = 0; x < picture.width; ++x) data[y * stride + x] = static_cast<unsigned char>(picture.dots[static_cast<std::size_t>(y * picture.width + x)]);
  cairo_surface_mark_dirty(surface);
  EXPECT_EQ(cairo_surface_write_to_png(surface, path.c_str()), CAIRO_STATUS_SUCCESS) << path;
  cairo_surface_destroy(surface);
}

Grey read(const std::string& path) {
  Grey picture;
  cairo_surface_t* surface = cairo_image_surface_create_from_png(path.c_str());
  if (cairo_surface_status(surface) == CAIRO_STATUS_SUCCESS) {
    picture.width = cairo_image_surface_get_width(surface), picture.height = cairo_image_surface_get_height(surface);
    const unsigned char* data = cairo_image_surface_get_data(surface);
    const int stride = cairo_image_surface_get_stride(surface), bytes = cairo_image_surface_get_format(surface) == CAIRO_FORMAT_A8 ? 1 : 4;
    for (int y = 0; y < picture.height; ++y)
      for (int x = 0; x < picture.width; ++x) picture.dots.push_back(static_cast<char>(data[y * stride + x * bytes]));
  }
  cairo_surface_destroy(surface);
  return picture;
}

double share_that_differs(const Grey& a, const Grey& b) {
  std::size_t count = 0;
  for (std::size_t i = 0; i < a.dots.size(); ++i)
    count += std::abs(static_cast<unsigned char>(a.dots[i]) - static_cast<unsigned char>(b.dots[i])) > kGrey;
  return static_cast<double>(count) / static_cast<double>(a.dots.size());
}

void compare(const Case& c, const std::string& name, bool front_alone = false) {
  const std::string folder = SOURCE_DIR "/tests/sheet/golden/";
  const char* mode = std::getenv("AFTERSHEATH_GOLDEN");
  const bool renew = mode && std::string(mode) == "write";
  auto pages = pages_of(c);
  if (front_alone) pages.resize(1);
  for (std::size_t i = 0; i < pages.size(); ++i) {
    const std::string file = name + "-" + std::to_string(i + 1) + ".png";
    if (renew) {
      std::filesystem::create_directories(folder);
      write(pages[i], folder + file);
      continue;
    }
    const Grey kept = read(folder + file);
    const bool same_size = kept.width == pages[i].width && kept.height == pages[i].height;
    const double differs = same_size ? share_that_differs(kept, pages[i]) : 1;
    if (differs > kShare) {
      const std::string now = scratch(file, "");
      write(pages[i], now);
      ADD_FAILURE() << file << ": " << (same_size ? std::to_string(differs * 100) + " % of the dots differ" : "no such picture, or another size") << "; now: " << now;
    }
  }
  if (!renew) {
    EXPECT_FALSE(std::filesystem::exists(folder + name + "-" + std::to_string(pages.size() + 1) + ".png")) << name << " had more pages";
  }
}

// Of the translations the front; the other pages are English's blocks in other words.
TEST(SheetGolden, EachLanguageAndPaper) {
  for (const auto& language : languages())
    for (const char* paper : {"A4", "Letter", "A5"}) {
      Case c = waiting_for_act();
      c.language = language;
      c.paper = paper;
      compare(c, language + "-" + paper, language != "en");
    }
}

TEST(SheetGolden, EachSituation) {
  for (const Case& c : {ready_to_pull(), compressing(), resting(), emergency(), rebleed(), artery_and_vein(), side_contradicted(), withdrawn()}) compare(c, c.name);
}

TEST(SheetGolden, AnotherSheetIsSeen) {
  Case c = resting();
  const auto before = pages_of(c);
  c.plan.sites[0].side = clinical::Side::left;
  EXPECT_GT(share_that_differs(before[0], pages_of(c)[0]), kShare) << "the other side";
  c = resting();
  for (auto& m : c.plan.sites[0].milestones)
    if (m.step == clinical::Step::stand_and_walk) m.earliest = *m.earliest + clinical::minutes{1};
  EXPECT_GT(share_that_differs(before[0], pages_of(c)[0]), kShare) << "one minute of one time";
}

}  // namespace
}  // namespace sheet
