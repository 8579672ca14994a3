#include "transport/file_stamp.h"

#include <sys/stat.h>

namespace transport {

std::string stamp_of(std::vector<std::string> const& files) {
  std::string out;
  for (auto const& file : files) {
    struct stat seen {};
    if (!file.empty() && ::stat(file.c_str(), &seen) == 0)
      out += std::to_string(seen.st_ino) + ":" + std::to_string(seen.st_size) + ":" + std::to_string(seen.st_mtim.tv_sec) + "." + std::to_string(seen.st_mtim.tv_nsec);
    out += ' ';
  }
  return out;
}

}  // namespace transport
