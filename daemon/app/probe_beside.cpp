#include "app/probe_beside.h"

#include <fstream>
#include <iterator>
#include <system_error>

namespace app {

std::string keep_probe(std::filesystem::path store, const json::Value& report) {
  const std::string file = (store += ".probe").string(), part = file + ".part";
  std::ofstream out(part, std::ios::binary);
  out << json::write_pretty(report) << "\n";
  out.close();
  std::error_code failed;
  if (out) std::filesystem::rename(part, file, failed);
  return out && !failed ? "" : file + " cannot be written";
}

json::Value last_probe(std::filesystem::path store) {
  std::ifstream in((store += ".probe"), std::ios::binary);
  auto read = json::parse(std::string(std::istreambuf_iterator<char>(in), {}));
  return read.has_value() ? std::move(*read) : json::Value();
}

}  // namespace app
