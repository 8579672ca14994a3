// A record system as far as the writer sees it: what stands, under which ids, and what it answers.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "clinical/change.h"
#include "fhir_write/care_plan.h"
#include "fhir_write/example_plans.h"
#include "fhir_write/example_words.h"
#include "fhir_write/transaction.h"
#include "fhir_write/verify.h"

namespace example {

inline const fhir_write::Sheet& sheet() {
  static const fhir_write::Sheet one{"%PDF-invented"};
  return one;
}

/// Writes one plan after the other and remembers what stands.
class History {
 public:
  explicit History(fhir_write::Form form) : form_(form) {}

  fhir_write::WriterContext context(Instant now) const {
    fhir_write::WriterContext c{protocol(), english(), {}, "en", "0.1.0", "test-1", "offline", "", std::string(64, 'b')};
    c.form = form_;
    c.test_data = true;
    c.now = now;
    c.on_server = server;
    return c;
  }

  fhir_write::Transaction write(const clinical::CasePlan& plan, Instant now, clinical::WantedOptions options = {}) {
    const auto d = difference(wanted(plan, protocol(), options), standing, now);
    auto after = applied(d, standing);
    if (form_ == fhir_write::Form::record) place_shells(plan, d, now);
    auto written = fhir_write::transaction(context(now), {plan, d, after, &sheet()});
    standing = after;
    const auto answer = answer_to(written.bundle, ++version_);
    const auto placed = fhir_write::placed(written.bundle, answer);
    for (std::size_t i = 0; i < written.entries.size(); ++i)
      if (const auto& entry = written.entries[i]; entry.key)
        server[*entry.key] = {form_ == fhir_write::Form::file ? "" : placed->at(i).id, placed->at(i).etag, form_ == fhir_write::Form::file ? entry.resource : fhir_write::resolved(entry.resource, *placed)};
    return written;
  }

  /// What a server that gives ids "srv-<n>" and the version `version` answers.
  static json::Value answer_to(const json::Value& request, int version) {
    json::Value entries = json::Value::array();
    int n = 0;
    for (const auto& entry : request["entry"].items()) {
      const bool post = entry["request"]["method"].text() == "POST";
      const std::string url(entry["request"]["url"].text());
      const std::string address = post ? url + "/srv-" + std::to_string(version) + "-" + std::to_string(++n) : url;
      entries.push(json::Value::object({{"response", json::Value::object({{"status", post ? "201 Created" : "200 OK"},
                                                                          {"location", address + "/_history/" + std::to_string(version)},
                                                                          {"etag", "W/\"" + std::to_string(version) + "\""}})}}));
    }
    return json::Value::object({{"resourceType", "Bundle"}, {"type", "transaction-response"}, {"entry", std::move(entries)}});
  }

  std::vector<clinical::Standing> standing;
  std::map<clinical::ItemKey, fhir_write::OnServer> server;

 private:
  static const clinical::Protocol& protocol() {
    static const clinical::Protocol one = example::protocol();
    return one;
  }

  void place_shells(const clinical::CasePlan& plan, const clinical::Difference& d, Instant now) {
    for (const auto& change : d.changes)
      if (change.key.kind == clinical::ItemKind::care_plan && change.kind == clinical::ChangeKind::create)
        server[change.key] = {"srv-plan-" + std::to_string(server.size()), "W/\"1\"", fhir_write::shell(context(now), plan, change.key).resource};
  }

  fhir_write::Form form_;
  int version_ = 1;
};

}  // namespace example
