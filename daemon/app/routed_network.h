// Requests to the record of which some never leave: what concerns the Tasks and CarePlans that are served here is answered here.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "app/seams.h"
#include "app/served.h"
#include "transport/network.h"

namespace app {

class RoutedNetwork : public transport::Network {
 public:
  /// `types`: those that are served here. With some of the four only, no transaction is ours.
  RoutedNetwork(transport::Network& record, Executor& executor, Served& served, std::string base_url, std::vector<std::string> types)
      : record_(record), executor_(executor), served_(served), base_url_(std::move(base_url)), types_(std::move(types)) {}

  /// Called on the executor, outside of store transactions. Here: transactions, every writing of a served type, a resource that is held here, and a
  /// search for our identifiers. What else is asked about these types goes to the record: others' Tasks may stand there.
  void send(transport::OutgoingRequest request, std::function<void(transport::Outcome)> done) override;

 private:
  bool is_ours(const transport::OutgoingRequest&, const std::string& path);

  transport::Network& record_;
  Executor& executor_;
  Served& served_;
  std::string base_url_;
  std::vector<std::string> types_;
};

}  // namespace app
