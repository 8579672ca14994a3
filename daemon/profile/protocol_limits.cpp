#include "profile/protocol_limits.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "clinical/names.h"

namespace profile {
namespace {

using clinical::SettingUnit;

struct Range {
  std::string_view key;
  double low, high;  // inclusive
};

// Narrower than the unit's own range: values outside are slips, not choices. Published values lie well inside.
constexpr Range kRanges[] = {
    {"case.adult-age", 14, 25},
    {"case.large-bore", 7, 24},
    {"gate.act.limit", 100, 200},
    {"gate.aptt.limit", 30, 60},
    {"gate.warfarin-inr.open", 1, 2.2},
    {"gate.warfarin-inr.ask", 1, 2.5},
    {"gate.fibrinolytic.fibrinogen", 0.5, 4},
    {"gate.platelets.limit", 20, 150},
    {"gate.gp-inhibitor.platelets-ask-below", 50, 200},
    {"gate.site-status.swelling", 1, 10},
    {"gate.blood-pressure.systolic-low", 70, 120},
    {"gate.blood-pressure.systolic-open-below", 120, 190},
    {"gate.blood-pressure.systolic-close", 130, 200},
    {"gate.blood-pressure.diastolic-close", 80, 130},
    {"gate.heart-rate.low-open", 35, 70},
    {"gate.heart-rate.high-open", 90, 160},
    {"gate.heart-rate.close-below", 25, 60},
    {"gate.haemoglobin.low", 5, 12},
    {"gate.haemoglobin.fall", 0.5, 5},
    {"projection.baseline", 80, 180},
    {"hold.artery.per-french", 1, 10},
    {"hold.artery.shortest", 5, 60},
    {"hold.pulseless-longest", 1, 10},
    {"rest.artery.per-french", 0.25, 4},
    {"rest.artery.shortest", 1, 24},
    {"early-walk.rest.4", 1, 8},
    {"early-walk.rest.5", 1, 8},
    {"early-walk.rest.6", 1, 8},
    {"early-walk.rest.7", 1, 8},
    {"early-walk.limit.platelets-below", 50, 200},
    {"early-walk.limit.inr-over", 1, 1.8},
    {"early-walk.limit.systolic-from", 130, 190},
    {"early-walk.limit.diastolic-from", 80, 110},
    {"fresh.creatinine-rise-48-h", 0.1, 2},
    {"fresh.act", 5, 120},
    {"hold.mechanical.full-above-systolic", 1, 60},
    {"hold.mechanical.partial-above-mean", 0, 40},
    {"hold.mechanical.low-pressure", 1, 80},
};

struct UnitRange {
  SettingUnit unit;
  double high;
  long long grain;  // values are multiples of this many millionths; 0: of a whole minute
};
constexpr UnitRange kUnitRanges[] = {
    {SettingUnit::second, 600, 1'000'000},     {SettingUnit::minute, 2880, 1'000'000},
    {SettingUnit::hour, 336, 0},               {SettingUnit::day, 366, 1'000'000},
    {SettingUnit::year, 120, 1'000'000},       {SettingUnit::french, 34, 1'000'000},
    {SettingUnit::centimetre, 30, 1},          {SettingUnit::mmhg, 300, 1'000'000},
    {SettingUnit::per_minute, 250, 1'000'000}, {SettingUnit::ratio, 5, 1},
    {SettingUnit::percent, 300, 1},            {SettingUnit::count, 50, 1'000'000},
    {SettingUnit::gram_per_litre, 10, 1},      {SettingUnit::gram_per_decilitre, 20, 1},
    {SettingUnit::milligram_per_decilitre, 20, 1}, {SettingUnit::per_nanolitre, 600, 1},
    {SettingUnit::millilitre_per_minute, 150, 1},  {SettingUnit::kilogram_per_square_metre, 80, 1},
    {SettingUnit::square_metre, 3, 1},         {SettingUnit::unit_per_kilogram, 600, 1},
    {SettingUnit::celsius, 42, 1},             {SettingUnit::millilitre, 2000, 1'000'000},
    {SettingUnit::unit_per_millilitre, 2, 1},   {SettingUnit::unit_per_litre, 1000, 1'000'000}, {SettingUnit::international_unit, 100'000, 1},
};
static_assert(std::size(kUnitRanges) == static_cast<std::size_t>(SettingUnit::international_unit) + 1);

/// What is added on top of something may be nothing; every other value is above zero.
bool may_be_zero(std::string_view key) {
  constexpr std::string_view exact[] = {"hold.add.each-further", "hold.mechanical.low-add", "hold.closure-device.failed-add", "hold.mechanical.partial-above-mean",
                                        "rest.add.each-further", "rest.add.rebleed",        "rest.add.swelling"};
  if (std::find(std::begin(exact), std::end(exact), key) != std::end(exact)) return true;
  return key.starts_with("add.") && (key.ends_with(".hold") || key.ends_with(".rest") || key.ends_with(".rest-floor"));
}

constexpr bool kEqualAllowed = true;
struct Order {
  std::string_view smaller, greater;
  bool equal = kEqualAllowed;
};
constexpr Order kOrders[] = {
    {"case.procedural-look-back", "case.look-back"},
    {"gate.fondaparinux.hold-impaired", "case.look-back", false},
    {"gate.direct-oral-anticoagulant.dabigatran-under-30", "case.look-back", false},
    {"gate.direct-oral-anticoagulant.hold-impaired", "case.look-back", false},
    {"fresh.platelets-after-gp-inhibitor-start", "fresh.platelets-with-gp-inhibitor", false},
    {"fresh.platelets-with-gp-inhibitor", "fresh.platelets"},
    {"fresh.inr-with-warfarin", "fresh.inr"},
    {"gate.act.after-protamine", "gate.act.repeat-after-protamine"},
    {"gate.low-molecular-weight-heparin.intravenous", "gate.low-molecular-weight-heparin.subcutaneous"},
    {"gate.fondaparinux.hold", "gate.fondaparinux.hold-impaired"},
    {"gate.bivalirudin.hold", "gate.bivalirudin.hold-moderate"},
    {"gate.bivalirudin.hold-moderate", "gate.bivalirudin.hold-severe"},
    {"gate.bivalirudin.clearance-ask", "gate.bivalirudin.clearance-severe", false},
    {"gate.bivalirudin.clearance-severe", "gate.bivalirudin.clearance-moderate", false},
    {"gate.argatroban.hold", "gate.argatroban.hold-liver"},
    {"gate.direct-oral-anticoagulant.hold", "gate.direct-oral-anticoagulant.hold-impaired"},
    {"gate.direct-oral-anticoagulant.dabigatran-over-80", "gate.direct-oral-anticoagulant.dabigatran-50-80"},
    {"gate.direct-oral-anticoagulant.dabigatran-50-80", "gate.direct-oral-anticoagulant.dabigatran-30-50"},
    {"gate.direct-oral-anticoagulant.dabigatran-30-50", "gate.direct-oral-anticoagulant.dabigatran-under-30"},
    {"gate.warfarin-inr.open", "gate.warfarin-inr.ask"},
    {"gate.fibrinolytic.ask-within", "gate.fibrinolytic.ask-within-reteplase"},
    {"gate.platelets.limit", "gate.gp-inhibitor.platelets-ask-below"},
    {"gate.platelets.limit", "add.platelets.below"},
    {"gate.blood-pressure.systolic-low", "gate.blood-pressure.systolic-open-below", false},
    {"gate.blood-pressure.systolic-open-below", "gate.blood-pressure.systolic-close"},
    {"gate.blood-pressure.apart", "gate.blood-pressure.after-high"},
    {"gate.heart-rate.close-below", "gate.heart-rate.low-open"},
    {"gate.heart-rate.low-open", "gate.heart-rate.high-open", false},
    {"projection.lowest", "projection.highest", false},
    {"projection.baseline", "gate.act.limit", false},
    {"gate.act.limit", "projection.highest", false},
    {"projection.half-life-median", "projection.half-life-slow"},
    {"projection.redraw-soonest", "projection.redraw-latest"},
    {"half-life.heparin-25-per-kg", "half-life.heparin-100-per-kg"},
    {"half-life.heparin-100-per-kg", "half-life.heparin-400-per-kg"},
    {"half-life.enoxaparin", "half-life.enoxaparin-impaired"},
    {"half-life.bivalirudin", "half-life.bivalirudin-moderate"},
    {"half-life.bivalirudin-moderate", "half-life.bivalirudin-severe"},
    {"half-life.bivalirudin-severe", "half-life.bivalirudin-dialysis"},
    {"half-life.argatroban", "half-life.argatroban-liver"},
    {"half-life.eptifibatide", "half-life.eptifibatide-impaired"},
    {"half-life.tirofiban", "half-life.tirofiban-impaired"},
    {"hold.artery.shortest", "hold.artery.longest"},
    {"hold.artery.procedural-floor", "hold.artery.longest"},
    {"hold.artery.longest", "hold.add.withheld-over"},
    {"hold.add.each-further", "hold.add.longest"},
    {"hold.mechanical.partial-4-5", "hold.mechanical.partial-6"},
    {"hold.mechanical.partial-6", "hold.mechanical.partial-7-10"},
    {"hold.mechanical.step-down-4-6", "hold.mechanical.step-down-7-10"},
    {"hold.mechanical.low", "hold.mechanical.low-longest"},
    {"hold.vein.plain", "hold.vein.large-or-anticoagulated"},
    {"rest.artery.shortest", "rest.artery.longest"},
    {"rest.artery.procedural-floor", "rest.artery.longest"},
    {"rest.artery.longest", "rest.add.withheld-over"},
    {"rest.add.each-further", "rest.add.longest"},
    {"rest.head.artery", "rest.head.artery-9-10"},
    {"rest.head.artery", "rest.artery.shortest"},
    {"rest.head.vein", "rest.vein.plain"},
    {"rest.head.device-4-6", "rest.device.4-6"},
    {"rest.head.device-7-and-over", "rest.device.7-8"},
    {"rest.device.4-6", "rest.device.7-8"},
    {"rest.device.7-8", "rest.device.9-and-over"},
    {"rest.vein.plain", "rest.vein.large-or-anticoagulated"},
    {"rest.sit-before-end", "rest.artery.shortest", false},
    {"rest.sit-before-end", "rest.device.4-6", false},
    {"rest.sit-before-end", "rest.vein.plain", false},
    {"rest.sit-before-end", "early-walk.rest.4", false},
    {"early-walk.rest.4", "early-walk.rest.5"},
    {"early-walk.rest.5", "early-walk.rest.6"},
    {"early-walk.rest.6", "early-walk.rest.7"},
    {"add.gp-inhibitor.within", "add.gp-inhibitor.within-abciximab"},
    {"add.bmi-low.below", "add.bmi-high.from", false},
    {"case.adult-age", "add.age.from"},
    {"gate.site-status.swelling", "alert.swelling-emergency"},
    {"gate.act.limit", "alert.act-urgent"},
    {"alert.systolic-emergency", "gate.blood-pressure.systolic-low"},
    {"gate.blood-pressure.systolic-close", "alert.systolic-urgent-high"},
    {"alert.heart-rate-emergency", "gate.heart-rate.low-open"},
    {"alert.heart-rate-with-back-pain", "alert.heart-rate-high"},
    {"alert.haemoglobin-fall-urgent", "alert.haemoglobin-fall-emergency"},
};

constexpr int kSplitHolds[] = {15, 20, 25, 30};  // minutes whose partial and light parts the protocol names

bool is_time(SettingUnit unit) {
  return unit == SettingUnit::second || unit == SettingUnit::minute || unit == SettingUnit::hour || unit == SettingUnit::day;
}
long long seconds_in(SettingUnit unit) {
  return unit == SettingUnit::day ? 86'400 : unit == SettingUnit::hour ? 3'600 : unit == SettingUnit::minute ? 60 : 1;
}
/// In one unit for all times, so that minutes compare with hours.
long long comparable(const clinical::Setting& setting) { return is_time(setting.unit) ? setting.micro * seconds_in(setting.unit) : setting.micro; }

std::string written(const clinical::Setting& setting) {
  return fmt::format("{} {}", tables::decimal(setting.micro), clinical::name_of(setting.unit));
}

bool fine_enough(const clinical::Setting& setting, long long grain) {
  return grain > 0 ? setting.micro % grain == 0 : setting.micro * seconds_in(setting.unit) % (60 * clinical::kMicro) == 0;
}

/// An early row is never longer than the row that a case falls back to.
void check_early_rows(const ReadSettings& settings, Faults& faults) {
  const auto found = [&](std::string_view key) {
    const auto at = settings.find(key);
    return at == settings.end() ? nullptr : at->second.setting;
  };
  const auto *each = found("rest.artery.per-french"), *shortest = found("rest.artery.shortest"), *longest = found("rest.artery.longest");
  for (int french = clinical::EarlyWalk::kSmallest; french <= clinical::EarlyWalk::kLargest; ++french) {
    const auto early = settings.find(fmt::format("early-walk.rest.{}", french));
    if (early == settings.end() || !each || !shortest || !longest) continue;
    const long long row = std::min(std::max(french * each->micro, shortest->micro), longest->micro);  // all in hours
    if (early->second.setting->micro <= row) continue;
    faults.add(early->second.at, fmt::format("'{}' is {}, but without early rows the rest is {} h", early->first, written(*early->second.setting), tables::decimal(row)),
               "make the first no greater than the second");
  }
}

void check_splits(const ReadSettings& settings, Faults& faults) {
  for (const int hold : kSplitHolds) {
    const auto partial = settings.find(fmt::format("hold.artery.partial-of-{}", hold));
    const auto light = settings.find(fmt::format("hold.artery.light-of-{}", hold));
    if (partial == settings.end() || light == settings.end()) continue;
    if (partial->second.setting->micro + light->second.setting->micro < clinical::whole(hold)) continue;
    faults.add(partial->second.at, fmt::format("'{}' and '{}' leave no firm minutes of {}", partial->first, light->first, hold),
               "make them shorter together than the hold");
  }
}

}  // namespace

bool check_range(std::string_view key, const ReadSetting& read, Faults& faults) {
  const clinical::Setting& setting = *read.setting;
  const auto* own = std::find_if(std::begin(kRanges), std::end(kRanges), [&](const Range& range) { return range.key == key; });
  const UnitRange& of_unit = kUnitRanges[static_cast<std::size_t>(setting.unit)];
  const double value = static_cast<double>(setting.micro) / clinical::kMicro;
  const auto unit = clinical::name_of(setting.unit);
  const auto refuse = [&](const std::string& what, std::string_view remedy) {
    faults.add(read.at, fmt::format("'{}' is {}, {}", key, written(setting), what), std::string{remedy});
    return false;
  };
  if (own != std::end(kRanges) && (value < own->low || value > own->high))
    return refuse(fmt::format("outside {} to {} {}", own->low, own->high, unit), "check the digits and the unit");
  if (value < 0 || (value == 0 && !may_be_zero(key))) return refuse("not above zero", "write a value above zero");
  if (value > of_unit.high) return refuse(fmt::format("over {} {}", of_unit.high, unit), "check the digits and the unit");
  if (!fine_enough(setting, of_unit.grain))
    return refuse("too finely divided", of_unit.grain == 0 ? "write a time of whole minutes" : "write a whole number");
  return true;
}

void check_orders(const ReadSettings& settings, Faults& faults) {
  for (const Order& order : kOrders) {
    const auto a = settings.find(order.smaller), b = settings.find(order.greater);
    if (a == settings.end() || b == settings.end()) continue;
    const long long smaller = comparable(*a->second.setting), greater = comparable(*b->second.setting);
    if (order.equal ? smaller <= greater : smaller < greater) continue;
    faults.add(a->second.at,
               fmt::format("'{}' is {}, but '{}' is {}", order.smaller, written(*a->second.setting), order.greater, written(*b->second.setting)),
               fmt::format("make the first {} the second", order.equal ? "no greater than" : "smaller than"));
  }
  check_early_rows(settings, faults);
  check_splits(settings, faults);
}

}  // namespace profile
