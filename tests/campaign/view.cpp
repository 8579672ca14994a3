#include "view.h"

#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "clinical/names.h"

namespace campaign {

using namespace clinical;

namespace {

class View {
 public:
  std::string out;

  void plan(const CasePlan& p) {
    line("case", "procedure", p.procedure);
    line("case", "state", name_of(p.state));
    line("case", "provisional", p.provisional ? "yes" : "no");
    line("case", "valid-until", p.valid_until);
    line("case", "up-at", p.up_at);
    line("case", "up-site", p.up_site);
    line("case", "place", p.place + "|" + p.encounter + "|" + p.title);
    line("case", "started", p.started);
    for (const auto& site : p.sites) this->site(site);
    for (const auto& row : p.agents) agent(row);
    if (p.clearance) line("clearance", "value", p.clearance->millilitres_per_minute), bases("clearance", p.clearance->basis);
    for (const auto& m : p.missing) missing(m);
    for (const auto& c : p.conflicts) conflict(c);
    for (const auto& a : p.alerts) alert(a);
    for (const auto& m : p.shown_values) line("shown", name_of(m.analyte), m.source);
    for (const auto& a : p.shown_doses) line("shown", name_of(a.agent), a.source);
  }

 private:
  void put(std::string_view text) { out.append(text); }
  void put(const char* text) { out.append(text); }
  void put(const std::string& text) { out.append(text); }
  void put(std::int64_t n) { fmt::format_to(std::back_inserter(out), "{}", n); }
  void put(int n) { put(std::int64_t{n}); }
  void put(double n) { fmt::format_to(std::back_inserter(out), "{:a}", n); }
  void put(Instant at) { put(at.time_since_epoch().count()); }
  void put(const Moment& m) { put(m.earliest), put(".."), put(m.latest); }
  void put(seconds s) { put(std::int64_t{s.count()}), put("s"); }
  void put(minutes m) { put(std::int64_t{m.count()}), put("min"); }
  void put(const Source& s) { put(s.reference), put("/"), put(s.version); }
  void put(const Value& v) { put(v.micro), put(static_cast<int>(v.comparator)), put(v.written); }
  void put(const Reason& r) {
    put(r.code);
    for (const auto& [name, value] : r.arguments) {
      put(" "), put(name), put(":");
      std::visit([&](const auto& v) { put(v); }, value);
    }
  }
  template <class T>
  void put(const std::optional<T>& v) {
    if (v) put(*v);
    else put("-");
  }
  template <class T>
  void put(const std::vector<T>& all) {
    for (const auto& v : all) put(v), put(",");
  }
  void put(Fact f) { put(name_of(f)); }
  void put(Step s) { put(name_of(s)); }

  template <class T>
  void line(std::string_view label, std::string_view field, const T& value) {
    put(label), put(" "), put(field), put("="), put(value), put("\n");
  }
  void bases(std::string_view label, const std::vector<Basis>& all) {
    for (const auto& b : all) {
      put(label), put(" basis="), put(b.rule), put("|"), put(b.source), put("|"), put(b.inputs), put("|"), put(b.arithmetic), put("\n");
    }
  }

  void site(const SitePlan& s) {
    const std::string label = "site " + s.key;
    line(label, "side", name_of(s.side));
    line(label, "vessel", name_of(s.vessel));
    line(label, "french", s.french);
    line(label, "closure", name_of(s.closure));
    line(label, "sheath-out", s.sheath_out);
    line(label, "pressed", s.compression_started);
    line(label, "t0", s.t0);
    line(label, "haemostases", s.haemostases);
    line(label, "high-watch", s.high_watch ? "yes" : "no");
    line(label, "rebleeds", s.rebleeds);
    line(label, "watched-for", s.watched_for);
    line(label, "pulses", s.baseline_pulses);
    for (const auto& e : s.compression_log) line(label, "log", e.source);
    if (s.last_check) line(label, "last-check", s.last_check->source);
    for (const auto& g : s.gates) gate(label, g);
    for (const auto& m : s.milestones) milestone(label, m);
    if (s.projection) {
      const auto& p = *s.projection;
      line(label, "projection", fmt::format("{} {} {} {} {} {}", p.limit, written(p.p10), written(p.p50), written(p.p90), written(p.next_draw), p.computed));
    }
  }
  void gate(const std::string& site, const Gate& g) {
    const std::string label = site + " gate " + std::string(name_of(g.name));
    line(label, "state", name_of(g.state));
    line(label, "opens", g.opens_at);
    line(label, "expires", g.expires_at);
    line(label, "since", g.since);
    line(label, "clock", g.clock_ends);
    line(label, "needs", g.needs);
    line(label, "seen", g.value_seen);
    line(label, "why", g.why);
    line(label, "rule", g.rule + "|" + g.source);
    line(label, "inputs", g.inputs);
  }
  void milestone(const std::string& site, const Milestone& m) {
    const std::string label = fmt::format("{} {}#{}", site, name_of(m.step), m.ordinal);
    line(label, "status", name_of(m.status));
    line(label, "earliest", m.earliest);
    line(label, "expected", m.expected);
    line(label, "latest", m.latest);
    line(label, "actual", m.actual);
    line(label, "planned", m.planned);
    line(label, "after-t0", m.after_t0);
    line(label, "released", m.released ? "yes" : "no");
    line(label, "late", m.late ? "yes" : "no");
    line(label, "why", m.why);
    bases(label, m.basis);
  }
  void agent(const AgentRow& r) {
    const std::string label = "agent " + std::string(name_of(r.agent));
    line(label, "last", r.last_given);
    line(label, "running", r.running ? "yes" : "no");
    line(label, "half-life", r.half_life);
    line(label, "total", r.total);
    line(label, "per-kg", r.total_per_kg);
    bases(label, r.basis);
  }
  void missing(const Missing& m) {
    const std::string label = "missing " + std::string(name_of(m.fact)) + " " + m.site;
    line(label, "of", name_of(m.asked_of));
    line(label, "blocks", m.blocks);
  }
  void conflict(const Conflict& c) {
    const std::string label = "conflict " + std::string(name_of(c.fact)) + " " + c.site;
    line(label, c.about, c.values);
    line(label, "inputs", c.inputs);
  }
  void alert(const Alert& a) {
    const std::string label = "alert " + a.trigger + " " + a.site;
    line(label, "level", name_of(a.level));
    line(label, "episode", a.episode);
    line(label, "why", a.why);
    line(label, "inputs", a.inputs);
  }
};

std::multiset<std::string> lines_of(const std::string& view) {
  std::multiset<std::string> lines;
  for (std::size_t from = 0; from < view.size();) {
    const auto to = view.find('\n', from);
    lines.insert(view.substr(from, to - from));
    from = to + 1;
  }
  return lines;
}

}  // namespace

std::string written(Instant at) {
  const auto day = std::chrono::floor<std::chrono::days>(at);
  const std::chrono::year_month_day date(day);
  const std::chrono::hh_mm_ss time(at - day);
  return fmt::format("{:02}-{:02} {:02}:{:02}:{:02}", static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()), time.hours().count(),
                     time.minutes().count(), time.seconds().count());
}
std::string written(const std::optional<Instant>& at) { return at ? written(*at) : "-"; }

std::string view_of(const std::vector<CasePlan>& plans) {
  View view;
  view.out.reserve(32768);
  for (const auto& plan : plans) view.plan(plan);
  return std::move(view.out);
}

std::vector<std::string> differing(const std::string& a, const std::string& b) {
  const auto left = lines_of(a), right = lines_of(b);
  std::vector<std::string> found;
  std::set_symmetric_difference(left.begin(), left.end(), right.begin(), right.end(), std::back_inserter(found));
  for (auto& line : found) line = line.substr(0, line.find('='));
  found.erase(std::unique(found.begin(), found.end()), found.end());
  return found;
}

}  // namespace campaign
