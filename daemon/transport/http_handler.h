// What a server does with a request: the seam between bytes on sockets and the use cases. A test calls a Handler itself,
// with a Reply that stores the answer.
#pragma once

#include <functional>
#include <memory>

#include "transport/http_message.h"

namespace transport {

/// Takes the one answer to one request, from any thread, at once or later. Copies answer the same request.
/// The first call counts, later ones do nothing; when the last copy goes without a call, the answer is 500.
/// An answer whose client or server has gone is dropped.
class Reply {
 public:
  /// `deliver` is called once, on the thread of the answer. It must not throw.
  explicit Reply(std::function<void(Response)> deliver);
  void operator()(Response answer) const;

 private:
  struct State;
  std::shared_ptr<State> state_;
};

/// Called on the server's I/O thread, so it must not block. It should not throw: what it throws is reported, and
/// answered with 500.
using Handler = std::function<void(Request, Reply)>;

}  // namespace transport
