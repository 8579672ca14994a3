// A real printer of the distribution (ippeveprinter) on loopback, started by printer.py beside this file; and a line to it that can be cut.
#pragma once

#include <cstdio>
#include <filesystem>
#include <string>
#include <vector>

namespace print_test {

/// The printer stands while this does. A failure to start fails the test and leaves uri() empty.
class TestPrinter {
 public:
  explicit TestPrinter(const std::string& name, int port = 0);
  ~TestPrinter();
  TestPrinter(const TestPrinter&) = delete;
  TestPrinter& operator=(const TestPrinter&) = delete;

  [[nodiscard]] std::string uri() const { return "ipp://localhost:" + std::to_string(port_) + "/ipp/print"; }
  [[nodiscard]] int port() const { return port_; }
  void paper(const std::string& size, int sheets) { tell("paper " + size + " " + std::to_string(sheets)); }
  void mood(const std::string& word) { tell("mood " + word); }
  void freeze() { tell("freeze"); }
  void thaw() { tell("thaw"); }
  void stop() { tell("stop"); }
  void start() { tell("start"); }
  /// The bytes of every sheet that came out, in order.
  [[nodiscard]] std::vector<std::string> tray() const;

 private:
  void tell(const std::string& line);
  std::string line();
  std::filesystem::path folder_;
  int port_ = 0;
  int to_ = -1;
  std::FILE* from_ = nullptr;
  int process_ = -1;
};

std::string bytes_of(const std::filesystem::path&);
/// A small valid PDF, made by the sheet's own library elsewhere; here written out by hand. `text` tells one from another.
std::string small_pdf(const std::string& text);

}  // namespace print_test
