#include "profile/configuration_keys.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

namespace profile {
namespace {

using C = Configuration;

Key text(std::string_view name, Means means, std::string_view fallback, std::string& (*where)(C&), std::string_view reason) {
  return {name, means, fallback, where, nullptr, nullptr, 0, 0, {}, reason};
}
Key choice(std::string_view name, std::vector<std::string_view> choices, std::string_view fallback, std::string& (*where)(C&), std::string_view reason) {
  return {name, Means::choice, fallback, where, nullptr, nullptr, 0, 0, std::move(choices), reason};
}
Key path(std::string_view name, Means means, std::string_view fallback, std::filesystem::path& (*where)(C&), std::string_view reason) {
  return {name, means, fallback, nullptr, where, nullptr, 0, 0, {}, reason};
}
Key number(std::string_view name, std::string_view fallback, std::int64_t low, std::int64_t high, std::int64_t& (*where)(C&), std::string_view reason) {
  return {name, Means::number, fallback, nullptr, nullptr, where, low, high, {}, reason};
}

std::vector<Key> make_keys() {
  return {
      text("listen.public", Means::address, "127.0.0.1:8181", [](C& c) -> auto& { return c.listen.public_address; },
           "FHIR intake; plain HTTP, so loopback only: put a TLS proxy before it. Port 0 takes any free one"),
      text("listen.admin", Means::address, "127.0.0.1:8182", [](C& c) -> auto& { return c.listen.admin_address; }, "health, status and metrics"),
      text("store.url", Means::store_url, "sqlite:var/aftersheath.db", [](C& c) -> auto& { return c.store.url; },
           "where events, plans and unsent writes are kept, durably"),
      path("chart.folder", Means::output_path, "var/chart", [](C& c) -> auto& { return c.chart.folder; },
           "transactions and sheets as files, used when no record is configured"),
      text("record.base_url", Means::base_url, "!", [](C& c) -> auto& { return c.record->base_url; }, "FHIR base of the record system; http on loopback only, else https"),
      choice("record.purpose", {"test", "production"}, "!", [](C& c) -> auto& { return c.record->purpose; },
             "test: only patients labelled as test data; production: only under an approved protocol"),
      choice("record.mode", {"live", "shadow"}, "shadow", [](C& c) -> auto& { return c.record->mode; },
             "shadow computes and keeps, and sends nothing: writing has to be asked for"),
      text("record.takes_over", Means::text, "", [](C& c) -> auto& { return c.record->takes_over; },
           "id of an installation whose store is lost: a new store takes its place and its plans; empty: none"),
      text("record.source", Means::text, "", [](C& c) -> auto& { return c.record->source; },
           "{source} of /fhir/hook/{source}/{name} under which the record itself sends; nothing is written for cases of any other source"),
      number("record.look_seconds", "60", 0, 86400, [](C& c) -> auto& { return c.record->look_seconds; },
             "pause between two rounds of asking the record for what has changed; 0: only when a sender says \"look again\""),
      path("record.ca_file", Means::input_file, "", [](C& c) -> auto& { return c.record->ca_file; }, "PEM file of trusted authorities; empty: the system's"),
      path("protocol.file", Means::input_file, "profiles/protocol/cautious.toml", [](C& c) -> auto& { return c.protocol.file; },
           "the hospital's rule tables; the default is the cautious one, not approved"),
      path("site.file", Means::input_file, "profiles/site/default.toml", [](C& c) -> auto& { return c.site.file; }, "where the hospital records what"),
      text("site.time_zone", Means::zone, "!", [](C& c) -> auto& { return c.site.time_zone; },
           "IANA zone of every printed time; no default, for a wrong zone prints wrong times"),
      text("site.language", Means::language, "en", [](C& c) -> auto& { return c.site.language; }, "a folder of templates/"),
      choice("site.paper", {"A4", "Letter", "A5"}, "A4", [](C& c) -> auto& { return c.site.paper; }, "of the printed sheet"),
      choice("site.patient_code", {"none", "code-128", "data-matrix", "qr"}, "none", [](C& c) -> auto& { return c.site.patient_code; }, "the record number on the sheet, as the wards' scanners read it"),
      text("site.owner", Means::text, "", [](C& c) -> auto& { return c.site.owner; }, "Organization/id of the unit that owns the Tasks; empty: no owner is written"),
      text("site.owner_name", Means::text, "", [](C& c) -> auto& { return c.site.owner_name; }, "the unit's name for people"),
      number("limits.body_bytes", "67108864", 1024, 1 << 30, [](C& c) -> auto& { return c.limits.body_bytes; },
             "largest request body, 64 MiB: a searchset of a long stay; more is answered 413"),
      number("limits.header_bytes", "32768", 1024, 1 << 20, [](C& c) -> auto& { return c.limits.header_bytes; }, "largest request head; more is answered 431"),
      number("limits.connections", "512", 1, 100'000, [](C& c) -> auto& { return c.limits.connections; }, "served at once; one more is answered 503"),
      number("limits.read_seconds", "60", 1, 3600, [](C& c) -> auto& { return c.limits.read_seconds; }, "for one request to arrive"),
      number("limits.answer_seconds", "120", 1, 3600, [](C& c) -> auto& { return c.limits.answer_seconds; }, "for one answer to be made"),
      number("limits.pending_events", "20000", 1, 10'000'000, [](C& c) -> auto& { return c.limits.pending_events; },
             "events that may wait; above it intake is answered 503 with Retry-After, so that the sender keeps them"),
      number("limits.oldest_pending_seconds", "900", 1, 86'400, [](C& c) -> auto& { return c.limits.oldest_pending_seconds; },
             "age of the oldest waiting event or write at which /readyz fails: one interval of site checks"),
      number("limits.record_parallel", "4", 1, 64, [](C& c) -> auto& { return c.limits.record_parallel; }, "requests under way at once to the record"),
      number("limits.record_timeout_seconds", "60", 1, 600, [](C& c) -> auto& { return c.limits.record_timeout_seconds; }, "for one answer of the record"),
      number("limits.longest_backoff_seconds", "300", 1, 3600, [](C& c) -> auto& { return c.limits.longest_backoff_seconds; },
             "longest pause between two tries to send"),
      number("limits.settle_unknown_seconds", "150", 1, 3600, [](C& c) -> auto& { return c.limits.settle_unknown_seconds; },
             "how long the record may still be at work on a request that it did not answer"),
      number("limits.conflicts_before_person", "3", 1, 100, [](C& c) -> auto& { return c.limits.conflicts_before_person; },
             "conflicts in a row on one case before a person must look"),
      number("limits.quarantine_count", "1000", 1, 1'000'000, [](C& c) -> auto& { return c.limits.quarantine_count; }, "inputs kept aside for inspection"),
      number("limits.quarantine_bytes", "67108864", 1 << 20, std::int64_t{1} << 36, [](C& c) -> auto& { return c.limits.quarantine_bytes; },
             "bytes kept aside for inspection"),
  };
}

}  // namespace

std::span<const Key> configuration_keys() {
  static const std::vector<Key> keys = make_keys();
  return keys;
}

std::string describe_keys() {
  std::string out;
  for (const Key& key : configuration_keys()) {
    const std::string value = key.fallback == "!" ? "(required)" : key.number ? std::string{key.fallback} : fmt::format("\"{}\"", key.fallback);
    out += fmt::format("{} = {}  # {}", key.name, value, key.reason);
    if (!key.choices.empty()) out += fmt::format("; one of {}", fmt::join(key.choices, ", "));
    if (key.number) out += fmt::format("; {} to {}", key.low, key.high);
    out += '\n';
  }
  return out;
}

}  // namespace profile
