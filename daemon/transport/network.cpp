#include "transport/network.h"

namespace transport {

std::string_view name_of(FailureKind kind) {
  switch (kind) {
    case FailureKind::unusable:
      return "unusable";
    case FailureKind::resolve:
      return "resolve";
    case FailureKind::refused:
      return "refused";
    case FailureKind::tls:
      return "tls";
    case FailureKind::not_sent:
      return "not_sent";
    case FailureKind::maybe_sent:
      return "maybe_sent";
    case FailureKind::timeout:
      return "timeout";
    case FailureKind::protocol:
      return "protocol";
    case FailureKind::too_large:
      return "too_large";
  }
  return "unknown";
}

}  // namespace transport
