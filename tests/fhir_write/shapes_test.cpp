// Many shapes of plans, written as bundles. With AFTERSHEATH_BUNDLES=folder they are left there for the independent validator:
// tests/peer/node tests/peer/validate.mjs folder
#include <gtest/gtest.h>

#include <cstdlib>
#include <fstream>
#include <set>

#include "fhir_write/example_write.h"
#include "fhir_write/identity.h"

namespace {

using namespace clinical;
using example::at;
using example::History;
using fhir_write::Form;

void leave(const std::string& name, const json::Value& bundle) {
  if (const char* folder = std::getenv("AFTERSHEATH_BUNDLES")) std::ofstream(std::string(folder) + "/" + name + ".json") << json::write_pretty(bundle);
}

CasePlan bilateral() {
  CasePlan plan = example::nearly_up();
  auto vein = plan.sites[0];
  vein.key = "Procedure/p1#2";
  vein.side = Side::left;
  vein.vessel = Vessel::vein;
  vein.french = 8;
  plan.sites.push_back(vein);
  return plan;
}

CasePlan contradicted() {
  CasePlan plan = example::sheath_in();
  plan.sites[0].side = Side::unknown;
  plan.sites[0].vessel = Vessel::unknown;
  plan.sites[0].french.reset();
  plan.sites[0].gates[1].state = GateState::ask;
  plan.sites[0].gates[1].value_seen = "ACT 190 s";
  plan.sites[0].projection = Projection{whole(150), at(16, 22), at(17, 30), at(19), at(15), true};
  plan.conflicts = {{Fact::side, "", {"left", "right"}, {{"Procedure/p1", "1", false}, {"Device/d", "", false}}, "Procedure/p1"}};
  plan.patient.name = "TEST <Ärger> & \"Söhne\"";
  plan.encounter.clear();
  plan.started.reset();
  return plan;
}

CasePlan with_alerts() {
  CasePlan plan = example::resting();
  const auto alert = [](AlertLevel level, const char* trigger) { return Alert{trigger, level, "", std::string(trigger) + " 15:00", example::reason("test.alert"), {{"Observation/hb", "2", false}}}; };
  plan.alerts = {alert(AlertLevel::emergency, "limb"), alert(AlertLevel::urgent, "haemoglobin-fall"), alert(AlertLevel::tell, "haemostasis-early")};
  plan.sites[0].milestones[2].late = true;
  return plan;
}

CasePlan every_step() {
  CasePlan plan = example::sheath_in();
  plan.sites[0].milestones.clear();
  for (int i = static_cast<int>(Step::draw_coagulation); i <= static_cast<int>(Step::discharge_check); ++i) {
    auto m = example::milestone(static_cast<Step>(i), StepStatus::due, at(15), true);
    m.planned = minutes{10};
    plan.sites[0].milestones.push_back(m);
  }
  plan.sites[0].milestones.push_back(example::milestone(Step::call_clinician, StepStatus::due, at(15), true));
  plan.sites[0].gates[0].expires_at = at(15, 12);
  return plan;
}

CasePlan ended(CaseState state) {
  CasePlan plan = example::resting();
  plan.state = state;
  if (state == CaseState::finished) plan.valid_until.reset();
  return plan;
}

TEST(Shapes, EveryPlanWritesInBothFormsWithoutDoubles) {
  const std::vector<CasePlan> course{contradicted(), example::sheath_in(), every_step(), example::nearly_up(), example::rebleed(), bilateral(), with_alerts(),
                                     ended(CaseState::finished), ended(CaseState::withdrawn)};
  for (const auto form : {Form::file, Form::record}) {
    History history(form);
    int n = 0;
    for (const auto& plan : course) {
      const auto written = history.write(plan, at(15) + minutes{30 * n});
      std::set<std::string> identities;
      for (const auto& entry : written.entries) EXPECT_TRUE(identities.insert(entry.identity).second) << n;
      leave((form == Form::file ? "file-" : "record-") + std::to_string(++n), written.bundle);
    }
  }
}

TEST(Shapes, ClaimsAndApproval) {
  History history(Form::record);
  history.write(example::nearly_up(), at(16));
  for (auto& standing : history.standing)
    if (standing.key.kind == ItemKind::task) standing.state = Stands::claimed;
  leave("record-claimed", history.write(example::rebleed(), at(18)).bundle);
  leave("record-approved", history.write(example::resting(at(19)), at(19), {Intent::plan, false}).bundle);
}

TEST(Shapes, Shell) {
  const History history(Form::record);
  leave("shell", fhir_write::shell(history.context(at(15)), contradicted(), fhir_write::care_plan_key(Intent::proposal)).resource);
}

}  // namespace
