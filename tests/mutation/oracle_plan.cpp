// What the oracle compares of the plans of many invented cases, without sentences and sheets: one evaluation of all of them is quick enough to be asked of every
// mutant.
//   oracle_plan FACTS.json AS_OF > told.json      members as in timeline.json, so that tests/oracle/program.py reads them
#include <fmt/format.h>

#include <cmath>
#include <cstdio>
#include <fstream>
#include <map>
#include <sstream>

#include "clinical/compute_plan.h"
#include "clinical/names.h"
#include "fhir/date_time.h"
#include "fhir_read/intake.h"
#include "fhir_read/load_terminology.h"
#include "fhir_read/read_record.h"
#include "fhir_read/resource_set.h"
#include "fhir_read/site_map.h"
#include "json/tree.h"
#include "profile/protocol_file.h"

namespace {

using namespace clinical;
using json::Value;

Value text(const std::optional<Instant>& at) { return at ? Value(fhir::format_utc(*at)) : Value(); }
Value number(const std::optional<minutes>& length) { return length ? Value(std::int64_t{length->count()}) : Value(); }
// Half up, as shown: the oracle compares what is shown.
Value decimal(double value, int places) {
  const double scale = std::pow(10.0, places);
  return Value::decimal(fmt::format("{:.{}f}", std::floor(value * scale + 0.5 + 1e-9) / scale, places));
}

Value told(const SitePlan& site) {
  Value gates = Value::array(), milestones = Value::array();
  for (const auto& g : site.gates)
    gates.push(Value::object({{"gate", name_of(g.name)}, {"state", name_of(g.state)}, {"opensAt", text(g.opens_at)}, {"expiresAt", text(g.expires_at)}}));
  for (const auto& m : site.milestones)
    milestones.push(Value::object({{"step", name_of(m.step)}, {"status", name_of(m.status)}, {"earliest", text(m.earliest)}, {"expected", text(m.expected)},
                                   {"minutes", number(m.planned)}, {"afterT0Minutes", number(m.after_t0)}}));
  Value one = Value::object({{"side", name_of(site.side)}, {"vessel", name_of(site.vessel)}, {"t0", text(site.t0)}});
  one.set("gates", std::move(gates)).set("milestones", std::move(milestones)).set("projection", Value());
  if (const auto& p = site.projection; p && (p->computed || p->next_draw))
    one.set("projection", Value::object({{"p10", text(p->p10)}, {"p50", text(p->p50)}, {"p90", text(p->p90)}, {"nextDraw", text(p->next_draw)}}));
  return one;
}

Value told(const CasePlan& plan) {
  Value sites = Value::array(), agents = Value::array(), missing = Value::array();
  for (const auto& site : plan.sites) sites.push(told(site));
  for (const auto& row : plan.agents)
    agents.push(Value::object({{"agent", name_of(row.agent)}, {"lastGiven", text(row.last_given)},
                               {"fractionLeft", row.fraction_left ? decimal(*row.fraction_left, 3) : Value()}, {"halfLifeMinutes", number(row.half_life)}}));
  for (const auto& m : plan.missing) missing.push(Value::object({{"fact", name_of(m.fact)}}));
  Value one = Value::object({{"patient", plan.patient.source.reference}, {"state", name_of(plan.state)}, {"upAt", text(plan.up_at)}});
  one.set("sites", std::move(sites)).set("agents", std::move(agents)).set("missing", std::move(missing)).set("creatinineClearance", Value());
  if (plan.clearance) one.set("creatinineClearance", Value::object({{"value", decimal(plan.clearance->millilitres_per_minute, 1)}}));
  return one;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 3) return 2;
  const std::string profiles = SOURCE_DIR "/profiles/";
  const auto loaded = profile::load_protocol(profiles + "protocol/cautious.toml");
  auto site = fhir_read::load_site_map(profiles + "site/default.toml");
  const auto terms = fhir_read::load_terminology(profiles + "terminology");
  const auto as_of = fhir::read_time(argv[2]);
  std::stringstream bytes;
  bytes << std::ifstream(argv[1], std::ios::binary).rdbuf();
  auto bundle = json::parse(bytes.str(), {.bytes = 1u << 30});
  if (!loaded.protocol || !site.has_value() || !terms.has_value() || !as_of.has_value() || !bundle.has_value()) return 2;
  if (!site->time_zone.empty()) site->zone.zone = fhir::find_zone(site->time_zone);

  std::map<std::string, fhir_read::ResourceSet> patients;
  for (auto& event : fhir_read::entries_of(*bundle).events) {
    const auto patient = fhir_read::subject_of(event.body).patient;
    patients.try_emplace(patient, patient).first->second.add({"", "", event.type, event.id, event.version, std::move(event.body)});
  }
  auto cases = json::Value::array();
  for (const auto& [patient, set] : patients)
    for (const auto& plan : compute_plans(fhir_read::read_record(set, *site, *terms).record, *loaded.protocol, as_of->earliest)) cases.push(told(plan));
  std::fputs(json::write(json::Value::object({{"cases", std::move(cases)}})).c_str(), stdout);
}
