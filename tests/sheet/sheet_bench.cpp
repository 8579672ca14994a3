// How long a page takes and how large it is: `sheet_bench [FOLDER]` prints a line for each case and leaves the files in FOLDER. Not a test.
#include <fmt/format.h>

#include <chrono>
#include <fstream>

#include "sheet_support.h"

int main(int argc, char** argv) {
  testing::InitGoogleTest(&argc, argv);
  using clock = std::chrono::steady_clock;
  constexpr int kTimes = 20;
  fmt::print("{:<20}{:>6}{:>10}{:>12}{:>12}\n", "case", "pages", "bytes", "first ms", "warm ms/page");
  for (const auto& c : sheet::all_cases()) {
    const auto start = clock::now();
    const sheet::Pdf pdf = sheet::pdf_of_case(c);
    const auto first = clock::now();
    for (int i = 0; i < kTimes; ++i) sheet::pdf_of_case(c);
    const std::chrono::duration<double, std::milli> cold = first - start, warm = clock::now() - first;
    fmt::print("{:<20}{:>6}{:>10}{:>12.1f}{:>12.2f}\n", c.name, pdf.pages, pdf.bytes.size(), cold.count(), warm.count() / kTimes / pdf.pages);
    if (argc > 1) std::ofstream(fmt::format("{}/{}.pdf", argv[1], c.name), std::ios::binary) << pdf.bytes;
  }
}
