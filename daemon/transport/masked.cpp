#include "transport/masked.h"

#include <algorithm>
#include <regex>

namespace transport {

std::string masked(std::string_view text, std::size_t limit) {
  // So long a text is no sentence; the expressions below are not for it.
  std::string line(text.substr(0, 2 * limit));
  std::ranges::replace_if(line, [](unsigned char c) { return c < 0x20 || c == 0x7f; }, ' ');
  static const std::regex scheme(R"((bearer|basic|digest)\s+\S+)", std::regex::icase);
  static const std::regex named(R"re((password|passwd|secret|token|assertion|api[-_]?key|authorization|cookie)("?\s*[=:]\s*"?)[^\s"&,;]+)re", std::regex::icase);
  static const std::regex web_token(R"(eyJ[A-Za-z0-9_\-.]{8,})");
  static const std::regex key(R"([A-Za-z0-9_+=\-]{40,})");
  line = std::regex_replace(line, scheme, "$1 [masked]");
  line = std::regex_replace(line, named, "$1$2[masked]");
  line = std::regex_replace(line, web_token, "[masked]");
  line = std::regex_replace(line, key, "[masked]");
  if (line.size() <= limit) return line;
  std::size_t end = limit;
  while (end > 0 && (static_cast<unsigned char>(line[end]) & 0xC0) == 0x80) --end;  // not within a character
  return line.substr(0, end) + "...";
}

}  // namespace transport
