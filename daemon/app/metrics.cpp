#include "app/metrics.h"

#include <prometheus/metric_family.h>
#include <prometheus/text_serializer.h>

namespace app {
namespace {

using prometheus::ClientMetric;
using prometheus::MetricFamily;
using prometheus::MetricType;

MetricFamily family(const char* name, const char* help, MetricType type) {
  MetricFamily one;
  one.name = name;
  one.help = help;
  one.type = type;
  return one;
}

void add(MetricFamily& to, std::int64_t value, const char* label = nullptr, const char* label_value = nullptr) {
  ClientMetric metric;
  if (label) metric.label.push_back({label, label_value});
  if (to.type == MetricType::Counter) metric.counter.value = static_cast<double>(value);
  else metric.gauge.value = static_cast<double>(value);
  to.metric.push_back(std::move(metric));
}

MetricFamily write_family(const char* name, const char* help, const report::WriteCounts& w) {
  MetricFamily writes = family(name, help, MetricType::Gauge);
  add(writes, w.queued, "state", "queued");
  add(writes, w.delivered, "state", "delivered");
  add(writes, w.superseded, "state", "superseded");
  add(writes, w.pending, "state", "pending");
  add(writes, w.held, "state", "held");
  add(writes, w.dead, "state", "dead");
  return writes;
}

MetricFamily gauge(const char* name, const char* help, std::int64_t value) {
  MetricFamily one = family(name, help, MetricType::Gauge);
  add(one, value);
  return one;
}

/// One value a Subscription of ours, by what it is about: as many as are configured, and one more each while it is renewed.
template <class Value>
MetricFamily of_each(const char* name, const char* help, const report::Status& s, Value value) {
  MetricFamily one = family(name, help, MetricType::Gauge);
  if (!s.subscriptions) return one;
  for (const auto& subscription : s.subscriptions->list) {
    ClientMetric metric;
    metric.label = {{"subject", subscription.subject}, {"name", subscription.name}};
    metric.gauge.value = static_cast<double>(value(subscription));
    one.metric.push_back(std::move(metric));
  }
  return one;
}

}  // namespace

std::string metrics_text(const report::Status& s) {
  MetricFamily events = family("aftersheath_events", "Events by what became of them; received is the sum of the others.", MetricType::Gauge);
  add(events, s.events.received, "state", "received");
  add(events, s.events.applied, "state", "applied");
  add(events, s.events.irrelevant, "state", "irrelevant");
  add(events, s.events.pending, "state", "pending");
  add(events, s.events.dead, "state", "dead");
  MetricFamily sheets = family("aftersheath_sheets_to_print", "Sheets ordered on paper by what became of them; ordered is the sum of the others.", MetricType::Gauge);
  const report::Status::Printing printing = s.printing.value_or(report::Status::Printing{});
  add(sheets, printing.ordered, "state", "ordered");
  add(sheets, printing.waiting, "state", "waiting");
  add(sheets, printing.at_printer, "state", "at-printer");
  add(sheets, printing.printed, "state", "printed");
  add(sheets, printing.superseded, "state", "superseded");
  add(sheets, printing.asked, "state", "asked");
  add(sheets, printing.by_hand, "state", "by-hand");
  MetricFamily looked = family("aftersheath_compared_facts", "The last nightly comparison with the record: facts by how they were found.", MetricType::Gauge);
  const auto& compared = s.looking.compared;
  add(looked, compared.facts, "found", "there");
  add(looked, compared.missed, "found", "there-not-here");
  add(looked, compared.deleted, "found", "deleted-there");
  add(looked, compared.absent, "found", "unknown-there");
  add(looked, compared.hidden, "found", "hidden-from-search");
  MetricFamily refused = family("aftersheath_refused_senders_total", "Requests at the intake without a proof, since the start.", MetricType::Counter);
  add(refused, s.refused_senders);
  const std::vector<MetricFamily> all{
      std::move(looked),
      std::move(refused),
      std::move(sheets),
      std::move(events),
      write_family("aftersheath_writes", "Writes by what became of them; queued is the sum of delivered, superseded, pending and dead.", s.writes),
      write_family("aftersheath_shadow_writes", "Writes computed and kept in shadow mode.", s.shadow_writes),
      gauge("aftersheath_oldest_pending_event_seconds", "Age of the oldest pending event, -1 where none waits.", s.oldest_event_seconds.value_or(-1)),
      gauge("aftersheath_oldest_pending_write_seconds", "Age of the oldest pending write, -1 where none waits.", s.oldest_write_seconds.value_or(-1)),
      gauge("aftersheath_open_cases", "Cases that are neither finished nor withdrawn.", s.open_cases),
      gauge("aftersheath_tasks_waiting", "Routine Tasks that wait, since their patients were given as many as an hour may have.", s.held_tasks),
      gauge("aftersheath_quarantine_kept", "Bodies kept aside for inspection.", s.quarantine_kept),
      gauge("aftersheath_alarms", "Things an operator must look at; /status names them.", static_cast<std::int64_t>(s.alarms.size())),
      gauge("aftersheath_certificate_seconds", "Until the intake's certificate ends, -1 without TLS.", s.certificate_seconds.value_or(-1)),
      gauge("aftersheath_token_seconds", "Life left in the token for the record, -1 where there is none.", s.access.valid_seconds),
      gauge("aftersheath_client_certificate_seconds", "Until the certificate shown to the record ends, -1 where none is shown.", s.access.certificate_seconds.value_or(-1)),
      gauge("aftersheath_access_trouble", "1 while the record does not let us in.", s.access.trouble.empty() ? 0 : 1),
      gauge("aftersheath_scopes_not_granted", "Scopes asked for and not granted.", static_cast<std::int64_t>(s.access.not_granted.size())),
      gauge("aftersheath_record_requests_waiting", "Requests to the record that wait for their turn.", s.pace.waiting),
      gauge("aftersheath_record_resting", "1 while nothing is sent to the record: it asked for it, or counts as down.", s.pace.resting.empty() ? 0 : 1),
      gauge("aftersheath_look_seconds", "How long the last round of asking the record took, -1 before the first has ended.", s.looking.round_seconds),
      gauge("aftersheath_look_whole_age_seconds", "Since a round of asking the record was answered to its end, -1 where none was since the start.", s.looking.whole_age_seconds),
      gauge("aftersheath_look_single_waiting", "Single resources still to be read from the record.", s.looking.waiting),
      gauge("aftersheath_roster_patients", "Patients of the roster, -1 where none is read.", s.looking.roster_patients),
      gauge("aftersheath_not_searchable", "Kinds of facts that the record does not let us search for; /status names them.", static_cast<std::int64_t>(s.looking.lost.size())),
      of_each("aftersheath_subscription_active", "1 where the record says that it is active.", s, [](const auto& one) { return one.state == "active" ? 1 : 0; }),
      of_each("aftersheath_subscription_heard_seconds", "Since it was last heard, -1 where it never was.", s, [](const auto& one) { return one.heard_seconds; }),
      of_each("aftersheath_subscription_epoch", "Times that the record began to count its events.", s, [](const auto& one) { return one.epoch; }),
      of_each("aftersheath_subscription_gaps_opened", "Times that events were missing.", s, [](const auto& one) { return one.gaps_opened; }),
      of_each("aftersheath_subscription_gaps_open", "Stretches of events that are missing now.", s, [](const auto& one) { return one.gaps_open; }),
      gauge("aftersheath_ready", "1 when ready, 0 when not.", s.ready ? 1 : 0)};
  return prometheus::TextSerializer{}.Serialize(all);
}

}  // namespace app
