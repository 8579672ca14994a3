// Hands a transaction to a record that takes none: one write after the other, each fenced by its own version, each answer looked at before the next.
#pragma once

#include <chrono>
#include <functional>
#include <memory>
#include <string>

#include "app/seams.h"
#include "store/store.h"
#include "transport/network.h"

namespace app {

struct StepsEnd {
  enum class Kind {
    done,      ///< all of it stands; `response` is what a transaction would have been answered
    conflict,  ///< somebody else has written: a version was another one, or what was to be changed is gone
    refused,   ///< the record will not take a step, whatever is tried: `response` is its answer
    put_off    ///< no answer, or one that says later: to be tried again
  } kind = Kind::done;
  transport::Response response;
  std::string why;
  bool changed = false;                  ///< some of it stands in the record, or may
  std::chrono::seconds at_least{0};      ///< of put_off: how long the record wants to be left alone
};

class StepWriter {
 public:
  StepWriter(Executor&, transport::Network&, std::string base_url, std::chrono::milliseconds timeout);

  /// `then` on the executor, once. A write that was tried before asks for each new item by its identifier before it is created.
  void write(const store::Write&, std::function<void(StepsEnd)> then);

 private:
  struct Run;
  using Answer = std::function<void(const transport::Outcome&)>;
  void ask(transport::OutgoingRequest, Answer);
  void next(const std::shared_ptr<Run>&);
  void look_before(const std::shared_ptr<Run>&);
  void look_whether_ours(const std::shared_ptr<Run>&, const transport::Response& refusal, const std::string& why);
  void send(const std::shared_ptr<Run>&);
  void answered(const std::shared_ptr<Run>&, const transport::Response&);
  void look_after(const std::shared_ptr<Run>&);

  Executor& executor_;
  transport::Network& network_;
  std::string base_url_;
  std::chrono::milliseconds timeout_;
  std::shared_ptr<int> alive_ = std::make_shared<int>(0);
};

}  // namespace app
