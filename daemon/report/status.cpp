#include "report/status.h"

namespace report {
namespace {

using json::Value;

Value events_json(const EventCounts& c) {
  return Value::object({{"received", c.received}, {"applied", c.applied}, {"irrelevant", c.irrelevant}, {"pending", c.pending}, {"dead", c.dead},
                        {"quarantined", c.quarantined}, {"discarded", c.discarded}});
}
Value writes_json(const WriteCounts& c) {
  return Value::object({{"queued", c.queued}, {"delivered", c.delivered}, {"superseded", c.superseded}, {"pending", c.pending}, {"dead", c.dead},
                        {"held", c.held}});
}
Value seconds_or_null(const std::optional<std::int64_t>& s) { return s ? Value(*s) : Value(); }
std::string tenths(double value) {
  const auto n = static_cast<std::int64_t>(value * 10 + 0.5);
  return std::to_string(n / 10) + "." + std::to_string(n % 10);
}
Value list(const std::vector<std::string>& texts) {
  Value array = Value::array();
  for (const std::string& text : texts) array.push(text);
  return array;
}

Value access_json(const Status::Access& a) {
  if (a.kind.empty()) return {};
  return Value::object({{"kind", a.kind}, {"trouble", a.trouble.empty() ? Value() : Value(a.trouble)}, {"notGranted", list(a.not_granted)}, {"tokenSeconds", a.valid_seconds < 0 ? Value() : Value(a.valid_seconds)},
                        {"certificateSeconds", seconds_or_null(a.certificate_seconds)}});
}

Value pace_json(const Status& s) {
  if (s.access.kind.empty()) return {};
  return Value::object({{"perSecond", Value::decimal(tenths(s.pace.per_second))}, {"parallel", s.pace.parallel}, {"waiting", s.pace.waiting}, {"resting", s.pace.resting.empty() ? Value() : Value(s.pace.resting)}});
}

Value looking_json(const Status::Looking& l) {
  if (l.procedures.empty()) return {};
  const auto& c = l.compared;
  Value compared = c.day.empty() ? Value() : Value::object({{"day", c.day}, {"patients", c.patients}, {"facts", c.facts}, {"missed", c.missed}, {"deleted", c.deleted},
                                                            {"unknownThere", c.absent}, {"hidden", c.hidden}, {"notWhole", c.not_whole}});
  return Value::object({{"procedures", l.procedures}, {"rosterPatients", l.roster_patients < 0 ? Value() : Value(l.roster_patients)}, {"otherWays", list(l.ways)}, {"lastWholeRound", l.last_whole.empty() ? Value() : Value(l.last_whole)}, {"wholeAgeSeconds", l.whole_age_seconds < 0 ? Value() : Value(l.whole_age_seconds)}, {"singleWaiting", l.waiting}, {"roundSeconds", l.round_seconds < 0 ? Value() : Value(l.round_seconds)}, {"deletionsFrom", list(l.histories)}, {"notSearchable", list(l.lost)}, {"compared", std::move(compared)}});
}

Value printing_json(const Status::Printing& p) {
  Value printers = Value::array(), open = Value::array();
  for (const auto& one : p.printers) printers.push(Value::object({{"name", one.name}, {"address", one.address}, {"state", one.state}}));
  for (const auto& one : p.open)
    open.push(Value::object({{"case", one.case_key}, {"sheet", one.sheet}, {"void", one.is_void}, {"state", one.state}, {"printer", one.printer}, {"reason", one.reason},
                             {"personAsked", one.person_asked}}));
  return Value::object({{"ordered", p.ordered}, {"waiting", p.waiting}, {"atPrinter", p.at_printer}, {"printed", p.printed}, {"superseded", p.superseded},
                        {"asked", p.asked}, {"byHand", p.by_hand}, {"printers", std::move(printers)}, {"open", std::move(open)}});
}

Value text_or_null(const std::string& text) { return text.empty() ? Value() : Value(text); }

Value subscriptions_json(const Status::Subscriptions& s) {
  Value all = Value::array();
  for (const auto& one : s.list)
    all.push(Value::object({{"subject", one.subject}, {"name", one.name}, {"id", text_or_null(one.id)}, {"state", one.state}, {"reason", text_or_null(one.reason)},
                            {"lastHeard", text_or_null(one.last_heard)}, {"heardSeconds", one.heard_seconds < 0 ? Value() : Value(one.heard_seconds)}, {"notices", one.notices},
                            {"epoch", one.epoch}, {"lastNumber", one.last_number < 0 ? Value() : Value(one.last_number)}, {"gapsOpened", one.gaps_opened},
                            {"gapsOpen", one.gaps_open}, {"ends", text_or_null(one.ends)}}));
  return Value::object({{"form", s.form}, {"whyNone", text_or_null(s.why_none)}, {"list", std::move(all)}});
}

}  // namespace

Value status_json(const Status& s) {
  Value unmapped = Value::array();
  for (const auto& u : s.unmapped) unmapped.push(Value::object({{"what", u.what}, {"count", u.count}}));
  return Value::object({
      {"program", Value::object({{"version", s.version}, {"installation", s.installation}})},
      {"now", s.now},
      {"rehearsal", s.rehearsal},
      {"ready", s.ready},
      {"notReady", list(s.not_ready)},
      {"alarms", list(s.alarms)},
      {"protocol", Value::object({{"id", s.protocol_id}, {"version", s.protocol_version}, {"sha256", s.protocol_sha256}, {"approved", s.protocol_approved}})},
      {"record", Value::object({{"address", s.record}, {"mode", s.mode}, {"writing", s.writing}, {"probed", s.probed}, {"access", access_json(s.access)}, {"pace", pace_json(s)}, {"looking", looking_json(s.looking)}})},
      {"refusedSenders", s.refused_senders},
      {"certificateSeconds", seconds_or_null(s.certificate_seconds)},
      {"events", events_json(s.events)},
      {"writes", writes_json(s.writes)},
      {"shadowWrites", writes_json(s.shadow_writes)},
      {"printing", s.printing ? printing_json(*s.printing) : Value()},
      {"subscriptions", s.subscriptions ? subscriptions_json(*s.subscriptions) : Value()},
      {"oldestPendingSeconds", Value::object({{"event", seconds_or_null(s.oldest_event_seconds)}, {"write", seconds_or_null(s.oldest_write_seconds)}})},
      {"nextWake", s.next_wake ? Value(*s.next_wake) : Value()},
      {"openCases", s.open_cases},
      {"tasksWaiting", s.held_tasks},
      {"quarantine", Value::object({{"kept", s.quarantine_kept}, {"dropped", s.quarantine_dropped}})},
      {"unmapped", std::move(unmapped)},
  });
}

}  // namespace report
