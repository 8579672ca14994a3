#include "app/chart_folder.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <filesystem>

namespace app {
namespace {

namespace fs = std::filesystem;

std::string fault(std::string_view what, const fs::path& path) {
  return fmt::format("{} {}: {}", what, path.string(), std::strerror(errno));
}

bool write_all(int file, std::string_view content) {
  while (!content.empty()) {
    const ssize_t n = ::write(file, content.data(), content.size());
    if (n < 0 && errno == EINTR) continue;
    if (n < 0) return false;
    content.remove_prefix(static_cast<std::size_t>(n));
  }
  return true;
}

std::string sync_folder(const fs::path& folder) {
  const int handle = ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (handle < 0) return fault("cannot open folder", folder);
  const int synced = ::fsync(handle);
  ::close(handle);
  return synced == 0 ? std::string{} : fault("cannot sync folder", folder);
}

class ChartFolder final : public ChartDisk {
 public:
  explicit ChartFolder(fs::path root) : root_(std::move(root)) {}

  std::string put(const std::string& path, std::string_view content) override {
    const fs::path target = root_ / path;
    std::error_code failed;
    if (fs::create_directories(target.parent_path(), failed); failed)
      return fmt::format("cannot make folder {}: {}", target.parent_path().string(), failed.message());
    ::chmod(target.parent_path().c_str(), 0700);
    const fs::path beside = target.string() + ".part";
    if (auto wrong = write_synced(beside, content); !wrong.empty()) return wrong;
    if (::rename(beside.c_str(), target.c_str()) != 0) return fault("cannot rename to", target);
    return sync_folder(target.parent_path());
  }

 private:
  static std::string write_synced(const fs::path& path, std::string_view content) {
    const int file = ::open(path.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);
    if (file < 0) return fault("cannot write", path);
    std::string wrong;
    if (!write_all(file, content) || ::fsync(file) != 0) wrong = fault("cannot write", path);
    ::close(file);
    return wrong;
  }
  fs::path root_;
};

}  // namespace

std::unique_ptr<ChartDisk> chart_folder(const std::string& root) { return std::make_unique<ChartFolder>(root); }

}  // namespace app
