#include "course_support.h"

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <algorithm>

namespace clinical {

Source Chart::source() { return {fmt::format("Test/{}", ++count_), "1", false}; }

Procedure& Chart::procedure(std::string id, int french, Closure closure, Side side, Vessel vessel) {
  Procedure p;
  p.source = {"Procedure/" + id, "1", false};
  p.status = ProcedureStatus::completed;
  p.title = "Catheter procedure (invented)";
  p.start = exactly(hm(12));
  p.end = exactly(hm(13));
  p.catheter = p.femoral = true;
  p.intervention = Tristate::no;
  p.sides.push_back({side, p.source});
  p.vessels.push_back({vessel, p.source});
  p.french.push_back({whole(french), p.source});
  p.closures.push_back({closure, p.source});
  p.punctures = 1;
  return record.procedures.emplace_back(std::move(p));
}

AccessEvent& Chart::event(AccessEventKind kind, Instant at, std::string procedure) {
  AccessEvent e;
  e.source = source();
  e.kind = kind;
  e.at = exactly(at);
  e.procedure = std::move(procedure);
  return record.access_events.emplace_back(std::move(e));
}

Measurement& Chart::lab(Analyte analyte, double value, Instant at) {
  Measurement m;
  m.source = source();
  m.analyte = analyte;
  m.value = amount(value);
  m.at = exactly(at);
  m.analyser = "analyser A";
  m.sampling_site = "arterial sheath";
  m.test_code = name_of(analyte);
  return record.measurements.emplace_back(std::move(m));
}

Administration& Chart::bolus(Agent agent, double units, Instant at) {
  Administration a;
  a.source = source();
  a.agent = agent;
  a.name = name_of(agent);
  a.status = AdministrationStatus::completed;
  a.route = Route::intravenous;
  a.bolus = true;
  a.start = a.end = exactly(at);
  a.dose = Dose{amount(units, "U"), DoseUnit::international_unit, false};
  return record.administrations.emplace_back(std::move(a));
}

Statement& Chart::state(StatementKind kind, Instant at) { return record.statements.emplace_back(Statement{source(), kind, exactly(at), {}}); }

SiteCheck& Chart::check(Instant at, std::string procedure) {
  SiteCheck c;
  c.source = source();
  c.at = exactly(at);
  c.procedure = std::move(procedure);
  c.bleeding = Bleeding::none;
  c.swelling = amount(0, "cm");
  c.growth = false;
  c.foot_pulse = FootPulse::as_baseline;
  c.baseline_pulses = "2+ both feet";
  return record.checks.emplace_back(std::move(c));
}

Risk& Chart::risk(RiskKind kind) {
  Risk r;
  r.source = source();
  r.kind = kind;
  r.from = exactly(hm(0));
  return record.risks.emplace_back(std::move(r));
}

TaskFact& Chart::done(Step step, Instant at) {
  TaskFact f;
  f.source = source();
  f.step = name_of(step);
  f.state = TaskState::completed;
  f.changed = exactly(at);
  return record.tasks.emplace_back(std::move(f));
}

Decision& Chart::decide(Step step, std::string seen, Instant at) {
  return record.decisions.emplace_back(Decision{source(), std::string(name_of(step)), std::move(seen), "Practitioner/invented", exactly(at), false, {}});
}

void Chart::pressure(double systolic, Instant at) {
  lab(Analyte::systolic, systolic, at);
  lab(Analyte::diastolic, 75, at);
}

std::vector<CasePlan> Chart::plans(Instant now, const Protocol& protocol) const { return compute_plans(record, protocol, now); }
CasePlan Chart::plan(Instant now, const Protocol& protocol) const {
  auto found = plans(now, protocol);
  EXPECT_FALSE(found.empty()) << "no case";
  return found.empty() ? CasePlan{} : found.front();
}

Chart plain_chart(int french, Closure closure, Vessel vessel) {
  Chart chart;
  auto& patient = chart.record.patient;
  patient.source = {"Patient/a", "1", false};
  patient.name = "Nadia Example-Testcase";
  patient.birth = exactly(std::chrono::sys_days{std::chrono::year{1966} / 5 / 1});
  patient.sex = Sex::male;
  patient.test_data = true;
  chart.procedure("p1", french, closure, Side::right, vessel);
  chart.state(StatementKind::no_anticoagulant_given, hm(13, 5));
  chart.state(StatementKind::no_home_anticoagulant, hm(13, 5));
  chart.lab(Analyte::platelets, 220, hm(12, 10));
  chart.lab(Analyte::inr, 1.0, hm(12, 10));
  chart.lab(Analyte::haemoglobin, 14, hm(12, 10));
  chart.lab(Analyte::creatinine, 0.9, hm(12, 10));
  chart.lab(Analyte::weight, 80, hm(8));
  chart.lab(Analyte::height, 178, hm(8));
  return chart;
}

Chart intervention_chart(int french, Closure closure) {
  Chart chart = plain_chart(french, closure);
  chart.index().intervention = Tristate::yes;
  std::erase_if(chart.record.statements, [](const Statement& s) { return s.kind == StatementKind::no_anticoagulant_given; });
  chart.bolus(Agent::heparin, 5000, hm(12, 5));
  return chart;
}

void pull_at(Chart& chart, Instant out, std::string procedure) {
  const Instant before = out - minutes{5};
  chart.pressure(128, before);
  chart.lab(Analyte::heart_rate, 70, before);
  chart.check(before, procedure);
  if (!chart.record.administrations.empty()) chart.lab(Analyte::act, 140, before);
  chart.event(AccessEventKind::sheath_removed, out, procedure);
  chart.event(AccessEventKind::compression_started, out, procedure);
}

const Milestone& step(const SitePlan& site, Step wanted, int nth) {
  static const Milestone none{};
  for (const auto& m : site.milestones)
    if (m.step == wanted && nth-- == 0) return m;
  ADD_FAILURE() << "no milestone " << name_of(wanted);
  return none;
}
const Milestone& step(const CasePlan& plan, Step wanted, int nth) {
  static const SitePlan none{};
  EXPECT_FALSE(plan.sites.empty());
  return step(plan.sites.empty() ? none : plan.sites.front(), wanted, nth);
}
std::optional<Instant> at(const CasePlan& plan, Step wanted) {
  const auto& m = step(plan, wanted);
  return m.actual ? m.actual : m.earliest;
}

namespace {

class Writer {
 public:
  Writer& add(std::string_view text) {
    out_.append(text);
    out_ += '|';
    return *this;
  }
  Writer& add(Instant at) { return add(fmt::format("{:%FT%TZ}", at)); }
  Writer& add(const Moment& m) { return add(m.earliest).add(m.latest); }
  Writer& add(std::int64_t n) { return add(std::to_string(n)); }
  Writer& add(int n) { return add(std::int64_t{n}); }
  Writer& add(bool b) { return add(std::string_view(b ? "yes" : "no")); }
  Writer& add(minutes m) { return add(std::int64_t{m.count()}); }
  Writer& add(const Source& s) { return add(s.reference).add(s.version); }
  Writer& add(const Value& v) { return add(v.micro).add(v.written); }
  Writer& add(const Reason& r) {
    add(r.code);
    for (const auto& [name, value] : r.arguments) {
      add(name);
      std::visit([&](const auto& v) {
        if constexpr (std::is_same_v<std::decay_t<decltype(v)>, seconds>) add(std::int64_t{v.count()});
        else add(v);
      }, value);
    }
    return *this;
  }
  template <class T>
  Writer& add(const std::optional<T>& v) { return v ? add(*v) : add(std::string_view("-")); }
  template <class T>
  Writer& add(const std::vector<T>& all) {
    for (const auto& v : all) add(v);
    return add(std::string_view("/"));
  }
  Writer& add(const std::string& s) { return add(std::string_view(s)); }
  Writer& add(const Basis& b) { return add(b.rule).add(b.source).add(b.inputs).add(b.arithmetic); }
  Writer& add(Fact f) { return add(name_of(f)); }
  Writer& add(Step s) { return add(name_of(s)); }
  Writer& add(const Gate& g) {
    return add(name_of(g.name)).add(name_of(g.state)).add(g.opens_at).add(g.expires_at).add(g.since).add(g.clock_ends).add(g.needs).add(g.value_seen).add(g.why).add(g.inputs);
  }
  Writer& add(const Milestone& m) {
    return add(m.step).add(m.ordinal).add(name_of(m.status)).add(m.earliest).add(m.expected).add(m.latest).add(m.actual).add(m.planned).add(m.after_t0)
        .add(m.released).add(m.late).add(m.why).add(m.basis).add(std::string_view("\n"));
  }
  Writer& add(const Projection& p) { return add(p.limit).add(p.p10).add(p.p50).add(p.p90).add(p.next_draw).add(p.computed); }
  Writer& add(const SitePlan& s) {
    return add(s.key).add(name_of(s.side)).add(name_of(s.vessel)).add(s.french).add(name_of(s.closure)).add(s.sheath_out).add(s.compression_started).add(s.t0)
        .add(s.haemostases).add(s.rebleeds).add(s.high_watch).add(s.watched_for).add(s.gates).add(s.projection).add(std::string_view("\n")).add(s.milestones);
  }
  Writer& add(const Missing& m) { return add(m.fact).add(m.blocks).add(m.site).add(m.about); }
  Writer& add(const Conflict& c) { return add(c.fact).add(c.about).add(c.values).add(c.inputs).add(c.site); }
  Writer& add(const Alert& a) { return add(a.trigger).add(name_of(a.level)).add(a.site).add(a.episode).add(a.why).add(a.inputs); }
  Writer& add(const AgentRow& r) { return add(name_of(r.agent)).add(r.last_given).add(r.running).add(r.half_life).add(r.total).add(r.total_per_kg); }
  Writer& add(const CasePlan& p) {
    add(p.procedure).add(name_of(p.state)).add(p.valid_until).add(p.up_at).add(p.up_site).add(p.provisional).add(p.sites).add(p.agents);
    return add(p.missing).add(p.conflicts).add(p.alerts);
  }
  std::string take() { return std::move(out_); }

 private:
  std::string out_;
};

}  // namespace

std::string written_view(const CasePlan& plan) { return Writer().add(plan).take(); }
std::string written_view(const std::vector<CasePlan>& plans) { return Writer().add(plans).take(); }

std::ostream& operator<<(std::ostream& out, StepStatus s) { return out << name_of(s); }
std::ostream& operator<<(std::ostream& out, CaseState s) { return out << name_of(s); }

}  // namespace clinical

namespace std::chrono {
void PrintTo(const sys_seconds& at, std::ostream* out) { *out << fmt::format("{:%F %T}", at); }
void PrintTo(const minutes& m, std::ostream* out) { *out << m.count() << " min"; }
}  // namespace std::chrono
