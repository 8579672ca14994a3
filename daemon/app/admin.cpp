#include "app/case_notes.h"
#include "app/admin.h"

#include <fmt/format.h>

#include "app/ledger_text.h"
#include "app/metrics.h"
#include "app/served.h"
#include "fhir/date_time.h"
#include "json/tree.h"
#include "report/status.h"

namespace app {
namespace {

using transport::Reply;
using transport::Request;
using transport::Response;

Response text_response(int status, std::string body) { return {status, {{"Content-Type", "text/plain; charset=utf-8"}}, std::move(body)}; }
Response json_response(int status, const json::Value& body) { return {status, {{"Content-Type", "application/json"}}, json::write_pretty(body) + "\n"}; }

/// The value of ?name=... ; instants need no decoding but of %3A and %2B.
std::string query_value(const std::string& target, std::string_view name) {
  const auto question = target.find('?');
  if (question == std::string::npos) return {};
  const std::string key = std::string(name) + "=";
  const auto at = target.find(key, question + 1);
  if (at == std::string::npos) return {};
  std::string value = target.substr(at + key.size(), target.find('&', at) - at - key.size());
  for (const auto& [code, plain] : {std::pair{"%3A", ":"}, std::pair{"%2B", "+"}, std::pair{"%2F", "/"}})
    for (auto found = value.find(code); found != std::string::npos; found = value.find(code)) value.replace(found, 3, plain);
  return value;
}

Response ready_response(const report::Status& status) {
  if (status.ready) return text_response(200, "ready\n");
  std::string why;
  for (const std::string& line : status.not_ready) why += line + "\n";
  return text_response(503, why);
}

Response news_response(const Engine& engine, const std::string& after) {
  json::Value rows = json::Value::array();
  for (const auto& [n, text] : engine.news_after(after.empty() ? 0 : std::atoll(after.c_str()))) rows.push(json::Value::object({{"n", n}, {"text", text}}));
  return json_response(200, json::Value::object({{"news", std::move(rows)}}));
}

class Admin {
 public:
  Admin(Engine& engine, PlanClock& clock, store::Store& store) : engine_(engine), clock_(clock), store_(store) {}

  void answer(const Request& request, const Reply& reply) {
    const std::string path = request.target.substr(0, request.target.find('?'));
    const bool get = request.method == "GET" || request.method == "HEAD";
    if (get && path == "/readyz") return reply(ready_response(engine_.status()));
    if (get && path == "/status") return reply(json_response(200, report::status_json(engine_.status())));
    if (get && path == "/metrics") return reply({200, {{"Content-Type", "text/plain; version=0.0.4; charset=utf-8"}}, metrics_text(engine_.status())});
    if (get && path == "/explain") return reply(explain(query_value(request.target, "procedure")));
    if (get && path == "/ledger") return reply(ledger(!query_value(request.target, "list").empty()));
    if (get && path == "/shadow") return reply(shadow());
    if (get && path == "/news") return reply(news_response(engine_, query_value(request.target, "after")));
    if (request.method == "POST" && path == "/backup") return reply(backup(query_value(request.target, "to")));
    if (request.method == "POST" && path == "/look-again") return engine_.look_again([this, reply] { reply(json_response(200, report::status_json(engine_.status()))); });
    if (request.method == "POST" && clock_.rehearsal()) return rehearse(path, request, reply);
    reply(text_response(404, "served here: /livez /readyz /status /metrics /explain?procedure=Procedure/ID /ledger /shadow /news?after=N, POST /look-again; in rehearsals POST /clock?to=INSTANT, /settle\n"));
  }

 private:
  void rehearse(const std::string& path, const Request& request, const Reply& reply) {
    if (path == "/settle") return engine_.when_idle([this, reply] { reply(json_response(200, report::status_json(engine_.status()))); });
    if (path != "/clock") return reply(text_response(404, "in rehearsals: POST /clock?to=INSTANT, POST /settle\n"));
    const auto to = fhir::read_time(query_value(request.target, "to"));
    if (to.has_error() || !to->exact()) return reply(text_response(400, "to: an instant with a zone is needed (2026-03-02T14:00:00Z)\n"));
    engine_.move_clock(to->earliest.time_since_epoch().count() * 1000,
                       [this, reply] { reply(json_response(200, report::status_json(engine_.status()))); });
  }

  Response explain(const std::string& procedure) const {
    const auto keys = store_.case_keys(100000);
    if (keys.has_error()) return text_response(500, keys.error().text + "\n");
    for (const std::string& key : *keys) {
      if (procedure_of(key) != procedure) continue;
      const auto row = store_.case_of(key);
      if (row.has_error() || !*row) continue;
      const auto text = engine_.explain({(*row)->source, (*row)->patient}, procedure);
      return text.has_value() ? text_response(200, *text) : text_response(500, text.error().text + "\n");
    }
    return text_response(404, "no case is known for " + procedure + "\n");
  }

  Response ledger(bool list) {
    const auto text = ledger_text(store_, list);
    return text.has_value() ? text_response(200, *text) : text_response(500, text.error().text + "\n");
  }

  Response shadow() {
    const auto lines = Served(store_, clock_, kShadowSource).as_lines();
    if (lines.has_error()) return text_response(500, lines.error().text + "\n");
    Response response = text_response(200, *lines);
    response.headers.set("Content-Type", "application/fhir+ndjson");
    return response;
  }

  Response backup(const std::string& to) {
    if (to.empty()) return text_response(400, "to: the file to write\n");
    const auto done = store_.backup_to(to);
    if (done.has_error()) return text_response(500, done.error().text + "\n");
    return text_response(200, "written to " + to + "\n");
  }

  Engine& engine_;
  PlanClock& clock_;
  store::Store& store_;
};

}  // namespace

transport::Handler admin_handler(Engine& engine, Executor& executor, PlanClock& clock, store::Store& store) {
  auto admin = std::make_shared<Admin>(engine, clock, store);
  return [admin, &executor](Request request, Reply reply) {
    if (request.target == "/livez") return reply(text_response(200, "alive\n"));  // on the I/O thread: also while the store is busy
    executor.post([admin, request = std::move(request), reply = std::move(reply)] { admin->answer(request, reply); });
  };
}

}  // namespace app
