#include "app/routed_network.h"

#include <algorithm>

#include "fhir/codes.h"

namespace app {

bool RoutedNetwork::is_ours(const transport::OutgoingRequest& request, const std::string& path) {
  if (path.empty()) return request.method == "POST" && types_.size() == served_types().size();
  const std::string type = path.substr(0, path.find_first_of("/?"));
  if (std::ranges::find(types_, type) == types_.end()) return false;
  if (request.method != "GET") return true;
  if (path.find('?') != std::string::npos) return path.find(fhir::item_identifier_system) != std::string::npos;
  return path.size() > type.size() && served_.holds(type, path.substr(type.size() + 1));
}

void RoutedNetwork::send(transport::OutgoingRequest request, std::function<void(transport::Outcome)> done) {
  const bool below = request.url == base_url_ || request.url.starts_with(base_url_ + "/");
  const std::string path = below ? request.url.substr(std::min(base_url_.size() + 1, request.url.size())) : "";
  if (!below || !is_ours(request, path)) return record_.send(std::move(request), std::move(done));
  auto answer = served_.as_record({request.method, path, std::move(request.headers), std::move(request.body), base_url_});
  executor_.post([done = std::move(done), answer = std::move(answer)] { done(transport::Outcome(answer)); });
}

}  // namespace app
