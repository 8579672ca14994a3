#include "app/serve_fhir.h"

#include <fstream>
#include <iterator>

#include "app/intake.h"
#include "app/lanes.h"

namespace app {
namespace {

using transport::Reply;
using transport::Request;
using transport::Response;

constexpr std::string_view kBase = "/fhir/";
constexpr std::string_view kParameter = "SearchParameter/task-restriction-period";

std::string whole_file(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

/// The address under which we were asked, so that links lead back the same way.
std::string own_base(const Request& request, bool tls) {
  return (tls ? "https://" : "http://") + std::string(request.headers.get("Host").value_or("localhost")) + "/fhir";
}

/// "Task?status=requested" of POST Task/_search with that as its form.
bool take_form(Request& request, std::string& path) {
  constexpr std::string_view kSearch = "/_search";
  const auto question = std::min(path.find('?'), path.size());
  const std::string address = path.substr(0, question), in_address = path.substr(std::min(question + 1, path.size()));
  if (request.method != "POST" || !address.ends_with(kSearch)) return false;
  if (!request.headers.get("Content-Type").value_or("").starts_with("application/x-www-form-urlencoded")) return false;
  path = address.substr(0, address.size() - kSearch.size()) + "?" + in_address + (in_address.empty() || request.body.empty() ? "" : "&") + request.body;
  request.method = "GET";
  request.body.clear();
  return true;
}

}  // namespace

transport::Handler with_served(Engine& engine, Executor& executor, const Rules& rules, transport::Handler intake) {
  if (!rules.configuration.record) return intake;
  const bool tls = !rules.configuration.listen.tls_certificate.empty();
  const std::string parameter = whole_file(rules.data + "/profiles/fhir/SearchParameter-task-restriction-period.json");
  return [&engine, &executor, &rules, intake = std::move(intake), tls, parameter](Request request, Reply reply) {
    std::string path = request.target.starts_with(kBase) ? request.target.substr(kBase.size()) : "";
    if (request.method == "GET" && path == kParameter && is_served(rules, "Task")) return reply({200, {{"Content-Type", "application/fhir+json; charset=utf-8"}}, parameter});
    take_form(request, path);
    const std::string type = path.substr(0, path.find_first_of("/?"));
    const bool change = request.method == "PUT" && type == "Task" && path.size() > 5;
    const bool coded = request.headers.get("Content-Encoding").value_or("identity") != "identity";  // the intake refuses it
    const bool here = request.method == "GET" ? is_read_here(rules, type) : change && is_served(rules, type);
    if (coded || !here) return intake(std::move(request), std::move(reply));
    const std::string base = own_base(request, tls);
    executor.post([&engine, intake, request = std::move(request), reply = std::move(reply), path, base, change]() mutable {
      if (change && !engine.serves_task(path.substr(5))) return intake(std::move(request), std::move(reply));
      if (const std::string why = change ? engine.crowded() : ""; !why.empty()) {
        Response busy = outcome_response(503, "throttled", why + "; try again");
        busy.headers.set("Retry-After", "5");
        return reply(busy);
      }
      Response answer = engine.serve({request.method, path, request.headers, std::move(request.body), base});
      answer.headers.set("Cache-Control", "no-store");
      reply(std::move(answer));
    });
  };
}

}  // namespace app
