#include "print/printer_support.h"

#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <fstream>
#include <iterator>

namespace print_test {

TestPrinter::TestPrinter(const std::string& name, int port) : folder_(testing::TempDir() + "printer-" + name + "-" + std::to_string(::getpid())) {
  std::filesystem::remove_all(folder_);
  std::array<int, 2> in{}, out{};
  if (::pipe(in.data()) != 0 || ::pipe(out.data()) != 0) {
    ADD_FAILURE() << "no pipe";
    return;
  }
  process_ = ::fork();
  if (process_ == 0) {
    ::dup2(in[0], 0);
    ::dup2(out[1], 1);
    for (const int one : {in[0], in[1], out[0], out[1]}) ::close(one);
    const std::string script = SOURCE_DIR "/tests/print/printer.py", number = std::to_string(port);
    ::execlp("python3", "python3", script.c_str(), folder_.c_str(), number.c_str(), nullptr);
    ::_exit(127);
  }
  ::close(in[0]);
  ::close(out[1]);
  to_ = in[1];
  from_ = ::fdopen(out[0], "r");
  const std::string first = line();
  if (!first.starts_with("LISTEN ")) ADD_FAILURE() << "the printer did not start: " << first;
  else port_ = std::stoi(first.substr(7));
}

TestPrinter::~TestPrinter() {
  ::close(to_);  // ends it
  if (from_) std::fclose(from_);
  ::waitpid(process_, nullptr, 0);
  std::error_code ignored;
  std::filesystem::remove_all(folder_, ignored);
}

std::string TestPrinter::line() {
  std::array<char, 200> text{};
  return std::fgets(text.data(), text.size(), from_) ? std::string(text.data()) : std::string();
}

void TestPrinter::tell(const std::string& words) {
  const std::string whole = words + "\n";
  if (::write(to_, whole.data(), whole.size()) != static_cast<ssize_t>(whole.size())) ADD_FAILURE() << "the printer's helper is gone";
  EXPECT_EQ(line(), "ok\n") << words;
}

std::vector<std::string> TestPrinter::tray() const {
  std::vector<std::filesystem::path> files;
  for (const auto& entry : std::filesystem::directory_iterator(folder_ / "tray")) files.push_back(entry.path());
  std::ranges::sort(files);
  std::vector<std::string> sheets;
  for (const auto& file : files) sheets.push_back(bytes_of(file));
  return sheets;
}

std::string bytes_of(const std::filesystem::path& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), {}};
}

std::string small_pdf(const std::string& text) {
  std::string pdf = "%PDF-1.4\n";
  std::vector<std::size_t> at;
  const std::string drawing = "BT /F 24 Tf 72 700 Td (" + text + ") Tj ET";
  for (const std::string& object :
       {std::string("<< /Type /Catalog /Pages 2 0 R >>"), std::string("<< /Type /Pages /Kids [3 0 R] /Count 1 >>"),
        std::string("<< /Type /Page /Parent 2 0 R /MediaBox [0 0 595 842] /Contents 4 0 R /Resources << /Font << /F 5 0 R >> >> >>"),
        "<< /Length " + std::to_string(drawing.size()) + " >>\nstream\n" + drawing + "\nendstream",
        std::string("<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica >>")}) {
    at.push_back(pdf.size());
    pdf += std::to_string(at.size()) + " 0 obj\n" + object + "\nendobj\n";
  }
  const std::size_t table = pdf.size();
  pdf += "xref\n0 " + std::to_string(at.size() + 1) + "\n0000000000 65535 f \n";
  for (const std::size_t one : at) {
    std::string digits = std::to_string(one);
    pdf += std::string(10 - digits.size(), '0') + digits + " 00000 n \n";
  }
  return pdf + "trailer << /Size " + std::to_string(at.size() + 1) + " /Root 1 0 R >>\nstartxref\n" + std::to_string(table) + "\n%%EOF\n";
}

}  // namespace print_test
