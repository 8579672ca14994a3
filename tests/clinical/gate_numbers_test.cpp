// The numbers of the shipped `cautious` protocol, stated a second time and independently: a slip in the file shows here.
#include <map>

#include "clinical/quantity.h"
#include "gate_support.h"

namespace clinical {
namespace {

const std::map<std::string, std::string> kExpected = {
    {"case.look-back", "168 h"}, {"case.procedural-look-back", "6 h"}, {"case.end-after-haemostasis", "48 h"}, {"case.release-window", "2 h"},
    {"case.future-tolerance", "5 min"}, {"case.decision-validity", "60 min"}, {"case.adult-age", "18 a"}, {"case.large-bore", "11 [Ch]"},
    {"fresh.act", "30 min"}, {"fresh.aptt", "60 min"}, {"fresh.blood-pressure", "15 min"}, {"fresh.heart-rate", "15 min"}, {"fresh.site-check", "15 min"},
    {"fresh.platelets", "24 h"}, {"fresh.platelets-with-gp-inhibitor", "6 h"}, {"fresh.platelets-after-gp-inhibitor-start", "2 h"}, {"fresh.inr", "24 h"},
    {"fresh.inr-with-warfarin", "6 h"}, {"fresh.haemoglobin", "24 h"}, {"fresh.fibrinogen", "6 h"}, {"fresh.creatinine", "72 h"}, {"fresh.weight", "30 d"},
    {"fresh.creatinine-rise-48-h", "0.3 mg/dL"}, {"fresh.creatinine-rise-7-d", "50 %"},
    {"gate.site-status.swelling", "5 cm"}, {"gate.site-status.swelling-growth", "1 cm"}, {"gate.act.limit", "150 s"}, {"gate.act.after-protamine", "10 min"}, {"gate.act.repeat-after-protamine", "60 min"},
    {"gate.aptt.limit", "45 s"}, {"gate.heparin-clock.hold", "6 h"}, {"gate.gp-inhibitor.heparin-off", "4 h"}, {"gate.gp-inhibitor.platelets-ask-below", "100 10*9/L"},
    {"gate.low-molecular-weight-heparin.intravenous", "6 h"}, {"gate.low-molecular-weight-heparin.subcutaneous", "8 h"},
    {"gate.low-molecular-weight-heparin.clearance", "30 mL/min"}, {"gate.fondaparinux.hold", "48 h"}, {"gate.fondaparinux.hold-impaired", "120 h"},
    {"gate.fondaparinux.clearance", "50 mL/min"}, {"gate.bivalirudin.hold", "120 min"}, {"gate.bivalirudin.hold-moderate", "165 min"},
    {"gate.bivalirudin.hold-severe", "275 min"}, {"gate.bivalirudin.clearance-moderate", "60 mL/min"}, {"gate.bivalirudin.clearance-severe", "30 mL/min"},
    {"gate.bivalirudin.clearance-ask", "10 mL/min"}, {"gate.argatroban.hold", "120 min"}, {"gate.argatroban.hold-liver", "430 min"}, {"gate.argatroban.transaminase", "120 U/L"},
    {"gate.direct-oral-anticoagulant.hold", "48 h"}, {"gate.direct-oral-anticoagulant.hold-impaired", "72 h"}, {"gate.direct-oral-anticoagulant.clearance", "30 mL/min"},
    {"gate.direct-oral-anticoagulant.dabigatran-over-80", "48 h"}, {"gate.direct-oral-anticoagulant.dabigatran-50-80", "72 h"},
    {"gate.direct-oral-anticoagulant.dabigatran-30-50", "96 h"}, {"gate.direct-oral-anticoagulant.dabigatran-under-30", "120 h"},
    {"gate.warfarin-inr.open", "1.5 {INR}"}, {"gate.warfarin-inr.ask", "1.8 {INR}"}, {"gate.fibrinolytic.fibrinogen", "1.5 g/L"},
    {"gate.fibrinolytic.ask-within", "24 h"}, {"gate.fibrinolytic.ask-within-reteplase", "48 h"}, {"gate.platelets.limit", "50 10*9/L"},
    {"gate.blood-pressure.systolic-low", "90 mm[Hg]"}, {"gate.blood-pressure.systolic-open-below", "150 mm[Hg]"}, {"gate.blood-pressure.systolic-close", "160 mm[Hg]"},
    {"gate.blood-pressure.diastolic-close", "100 mm[Hg]"}, {"gate.blood-pressure.window", "5 min"}, {"gate.blood-pressure.after-high", "30 min"},
    {"gate.blood-pressure.apart", "5 min"}, {"gate.heart-rate.low-open", "50 /min"}, {"gate.heart-rate.high-open", "120 /min"}, {"gate.heart-rate.close-below", "40 /min"},
    {"gate.haemoglobin.low", "8 g/dL"}, {"gate.haemoglobin.fall", "2 g/dL"}, {"gate.haemoglobin.baseline", "7 d"}, {"gate.draw-before", "15 min"},
    {"projection.baseline", "130 s"}, {"projection.half-life-median", "90 min"}, {"projection.half-life-slow", "120 min"}, {"projection.lowest", "100 s"},
    {"projection.highest", "350 s"}, {"projection.measurement-error", "10 s"}, {"projection.first-draw", "3 h"}, {"projection.redraw-soonest", "30 min"},
    {"projection.redraw-latest", "60 min"}, {"half-life.heparin-25-per-kg", "30 min"}, {"half-life.heparin-100-per-kg", "60 min"},
    {"half-life.heparin-400-per-kg", "150 min"}, {"half-life.enoxaparin", "420 min"}, {"half-life.bivalirudin", "25 min"}, {"half-life.bivalirudin-moderate", "34 min"},
    {"half-life.bivalirudin-severe", "57 min"}, {"half-life.bivalirudin-dialysis", "210 min"}, {"half-life.argatroban", "51 min"},
    {"half-life.argatroban-liver", "181 min"}, {"half-life.eptifibatide", "150 min"}, {"half-life.eptifibatide-impaired", "300 min"},
    {"half-life.eptifibatide-clearance", "50 mL/min"}, {"half-life.tirofiban", "120 min"}, {"half-life.tirofiban-impaired", "200 min"}, {"half-life.tirofiban-severe", "240 min"},
    {"half-life.tirofiban-clearance", "60 mL/min"}, {"half-life.tirofiban-clearance-severe", "30 mL/min"}, {"half-life.cangrelor", "6 min"},
    {"half-life.fondaparinux", "1260 min"}, {"half-life.fondaparinux-50-80", "1680 min"}, {"half-life.fondaparinux-30-50", "2100 min"},
    {"half-life.fondaparinux-under-30", "2800 min"}, {"half-life.dabigatran-over-80", "780 min"}, {"half-life.dabigatran-50-80", "900 min"},
    {"half-life.dabigatran-30-50", "1080 min"}, {"half-life.dabigatran-under-30", "1620 min"}, {"half-life.rivaroxaban", "780 min"},
    {"watch.after-walk-first", "15 min"}, {"watch.after-walk-second", "30 min"}, {"watch.after-walk-third", "60 min"},
    {"alert.repeat-unacknowledged", "15 min"}, {"alert.pain", "7 1"}, {"alert.oxygen-saturation-low", "92 %"}, {"alert.oxygen-saturation-fall", "4 %"},
    {"alert.temperature", "38 Cel"}, {"alert.orthostatic-systolic", "20 mm[Hg]"}, {"alert.orthostatic-diastolic", "10 mm[Hg]"},
    {"alert.urine-none-tell", "6 h"}, {"alert.urine-none-urgent", "8 h"}, {"alert.bladder-tell", "300 mL"}, {"alert.bladder-urgent", "500 mL"},
    {"alert.platelet-fall", "50 %"}, {"case.heparin-dose-asked-over", "25000 [iU]"}, {"gate.act.after-bolus", "5 min"}, {"hold.closure-device.failed-from", "15 min"},
};

TEST(CautiousNumbers, AreThoseOfTheClinicalModel) {
  std::map<std::string, std::string> shipped;
  each_setting(cautious(), [&](const Setting& s, const char* key, SettingUnit unit) { shipped[key] = digits_of(s.micro) + " " + std::string(name_of(unit)); },
               [](const Series&, const char*) {});
  for (const auto& [key, value] : kExpected) EXPECT_EQ(shipped[key], value) << key;
}

TEST(CautiousNumbers, EveryGateAndFreshnessIsStatedHere) {
  each_setting(cautious(), [&](const Setting&, const std::string& key, SettingUnit) {
    const bool ours = key.starts_with("gate.") || key.starts_with("fresh.") || key.starts_with("projection.") || key.starts_with("case.");
    EXPECT_TRUE(!ours || kExpected.contains(key)) << key;
  }, [](const Series&, const char*) {});
}

}  // namespace
}  // namespace clinical
