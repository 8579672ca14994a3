#include "told.h"

#include <fmt/format.h>

#include "clinical/names.h"
#include "view.h"

namespace campaign {

using namespace clinical;

namespace {

constexpr const char* kStatus[] = {"in-progress", "on-hold", "completed", "stopped", "unknown"};
constexpr const char* kRoute[] = {"route unknown", "iv", "sc", "ia", "oral", "other"};
constexpr const char* kRisk[] = {"pregnancy", "dialysis", "liver disease", "heparin-induced thrombocytopenia", "agitation", "cough", "steroids",
                                 "arterial disease", "severe arterial disease", "calcification", "graft"};
constexpr const char* kStatement[] = {"no anticoagulant given", "no home anticoagulant", "coagulation test unavailable"};
constexpr const char* kState[] = {"requested", "ready", "accepted", "in-progress", "on-hold", "completed", "failed", "rejected", "cancelled", "other"};

template <std::size_t N, class E>
const char* of(const char* const (&names)[N], E value) { return names[static_cast<std::size_t>(value)]; }

std::string when(const std::optional<Moment>& at) {
  if (!at) return "no time";
  return at->exact() ? written(at->latest) : written(at->earliest) + " to " + written(at->latest);
}

class Teller {
 public:
  std::string out;

  template <class... T>
  void line(fmt::format_string<T...> format, T&&... values) {
    fmt::format_to(std::back_inserter(out), format, std::forward<T>(values)...);
    out += '\n';
  }

  void patient(const Patient& p) {
    line("patient: {}, born {}", p.sex == Sex::male ? "male" : p.sex == Sex::female ? "female" : "sex unknown",
         p.birth ? fmt::format("{}", static_cast<int>(std::chrono::year_month_day(std::chrono::floor<std::chrono::days>(p.birth->earliest)).year())) : "not recorded");
  }
  void procedure(const Procedure& p) {
    std::string said;
    for (const auto& r : p.sides) said += " " + std::string(name_of(r.value));
    for (const auto& r : p.vessels) said += " " + std::string(name_of(r.value));
    for (const auto& r : p.french) said += fmt::format(" {:g} F{}", static_cast<double>(r.value) / 1e6, r.source.low_confidence ? " (free text)" : "");
    for (const auto& r : p.closures) said += " " + std::string(name_of(r.value));
    line("{}: status {}, {} to {},{}, punctures {}{}{}{}, intervention {}{}", p.source.reference, static_cast<int>(p.status), when(p.start), when(p.end), said,
         p.punctures.value_or(-1), p.difficult ? ", difficult" : "", p.high_stick ? ", high" : "", p.low_stick ? ", low" : "",
         p.intervention == Tristate::yes ? "yes" : p.intervention == Tristate::no ? "no" : "unknown", p.part_of.empty() ? "" : ", part of " + p.part_of);
  }
  void encounter(const Encounter& e) { line("encounter: {} to {}{}", when(e.start), when(e.end), e.in_progress ? ", in progress" : ""); }
  void event(const AccessEvent& e) {
    line("{}: {} at {} of {}{}{}{}{}{}{}{}", e.source.reference, name_of(e.kind), when(e.at), e.procedure.empty() ? "no procedure" : e.procedure,
         e.side != Side::unknown ? " " + std::string(name_of(e.side)) : "", e.vessel != Vessel::unknown ? " " + std::string(name_of(e.vessel)) : "",
         e.method != Closure::unknown ? " by " + std::string(name_of(e.method)) : "", e.french ? fmt::format(" {:g} F", static_cast<double>(*e.french) / 1e6) : "",
         e.pressure ? " " + e.pressure->written : "", e.from_task ? " (Task, when written)" : "", e.time_conflict ? " (two times)" : "");
  }
  void dose(const Administration& a) {
    line("{}: {} {} {}, {} to {}{}{}{}{}", a.source.reference, name_of(a.agent), of(kStatus, a.status), of(kRoute, a.route), when(a.start), when(a.end),
         a.bolus ? ", bolus" : "", a.flush ? ", flush" : "", a.dose ? ", " + a.dose->amount.written + (a.dose->per_kg ? " per kg" : "") : "",
         a.rate ? ", rate " + a.rate->amount.written : "");
  }
  void home(const HomeDrug& d) {
    line("{}: at home {}{}{}, last dose {}", d.source.reference, name_of(d.agent), d.taken ? "" : " not taken", d.told_by_request ? " (request)" : "", when(d.last_dose));
  }
  void measurement(const Measurement& m) {
    line("{}: {} {} at {}{}{}{}{}", m.source.reference, name_of(m.analyte), m.value ? m.value->written : "without value", when(m.at),
         m.analyser == "analyser A" ? "" : ", analyser '" + m.analyser + "'", m.sampling_site == "arterial sheath" ? "" : ", from " + m.sampling_site,
         m.preliminary ? ", preliminary" : "", m.test_code == "other test" ? ", other test" : "");
  }
  void check(const SiteCheck& c) {
    line("{}: check at {} of {}{}: {}, swelling {}, growth {}, foot pulse {}{}", c.source.reference, when(c.at), c.procedure.empty() ? "no procedure" : c.procedure,
         c.side != Side::unknown ? " " + std::string(name_of(c.side)) : "",
         !c.bleeding ? "bleeding not said" : *c.bleeding == Bleeding::none ? "dry" : *c.bleeding == Bleeding::ooze ? "ooze" : "bleeding",
         c.swelling ? c.swelling->written : "not said", !c.growth ? "not said" : *c.growth ? "yes" : "no",
         !c.foot_pulse ? "not said" : *c.foot_pulse == FootPulse::as_baseline ? "as baseline" : *c.foot_pulse == FootPulse::weaker ? "weaker" : "absent",
         c.back_pain ? ", back pain" : "");
  }
  void risk(const Risk& r) {
    line("{}: {} {}{} from {} to {}", r.source.reference, of(kRisk, r.kind), r.present ? "present" : "absent",
         r.side != Side::unknown ? " " + std::string(name_of(r.side)) : "", when(r.from), when(r.to));
  }
};

}  // namespace

std::string told(const Record& record) {
  Teller t;
  t.patient(record.patient);
  for (const auto& e : record.encounters) t.encounter(e);
  for (const auto& p : record.procedures) t.procedure(p);
  for (const auto& e : record.access_events) t.event(e);
  for (const auto& a : record.administrations) t.dose(a);
  for (const auto& d : record.home_drugs) t.home(d);
  for (const auto& l : record.home_lists) t.line("{}: home list{} at {}", l.source.reference, l.nil_known ? ", none taken" : "", when(l.at));
  for (const auto& s : record.statements) t.line("{}: stated at {}: {} {}", s.source.reference, when(s.at), of(kStatement, s.kind), s.procedure);
  for (const auto& d : record.decisions) t.line("{}: decision on {} at {}, seen '{}', by '{}'", d.source.reference, d.subject, when(d.at), d.value_seen, d.performer);
  for (const auto& m : record.measurements) t.measurement(m);
  for (const auto& c : record.checks) t.check(c);
  for (const auto& r : record.risks) t.risk(r);
  for (const auto& k : record.tasks) t.line("{}: task {} {} at {} of {}", k.source.reference, k.step, of(kState, k.state), when(k.changed), k.procedure);
  return std::move(t.out);
}

}  // namespace campaign
