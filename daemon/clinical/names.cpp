#include "clinical/names.h"

#include <array>
#include <utility>

namespace clinical {
namespace {

template <class E, std::size_t N>
using Names = std::array<std::pair<E, std::string_view>, N>;

/// Every enumerator at its own place: the value is the index.
template <class E, std::size_t N>
consteval bool in_order(const Names<E, N>& names) {
  for (std::size_t i = 0; i < N; ++i)
    if (static_cast<std::size_t>(names[i].first) != i) return false;
  return true;
}
template <class E, std::size_t N>
std::string_view look_up(const Names<E, N>& names, E value) { return names.at(static_cast<std::size_t>(value)).second; }
template <class E, std::size_t N>
std::optional<E> look_back(const Names<E, N>& names, std::string_view name) {
  for (const auto& [key, text] : names)
    if (text == name) return key;
  return std::nullopt;
}

constexpr auto kGates = std::to_array<std::pair<GateName, std::string_view>>({
    {GateName::access, "access"}, {GateName::site_status, "site-status"}, {GateName::anticoagulant_history, "anticoagulant-history"},
    {GateName::home_anticoagulants, "home-anticoagulants"}, {GateName::act, "act"}, {GateName::aptt, "aptt"}, {GateName::heparin_clock, "heparin-clock"},
    {GateName::gp_inhibitor, "gp-inhibitor"}, {GateName::low_molecular_weight_heparin, "low-molecular-weight-heparin"},
    {GateName::fondaparinux, "fondaparinux"}, {GateName::bivalirudin, "bivalirudin"}, {GateName::argatroban, "argatroban"},
    {GateName::direct_oral_anticoagulant, "direct-oral-anticoagulant"}, {GateName::warfarin_inr, "warfarin-inr"},
    {GateName::fibrinolytic, "fibrinolytic"}, {GateName::platelets, "platelets"}, {GateName::blood_pressure, "blood-pressure"},
    {GateName::heart_rate, "heart-rate"}, {GateName::haemoglobin, "haemoglobin"}});

constexpr auto kSteps = std::to_array<std::pair<Step, std::string_view>>({
    {Step::provide_missing, "provide-missing"}, {Step::draw_coagulation, "draw-coagulation"}, {Step::confirm_readiness, "confirm-readiness"},
    {Step::remove_sheath, "remove-sheath"}, {Step::firm_compression, "firm-compression"}, {Step::partial_compression, "partial-compression"},
    {Step::light_compression, "light-compression"}, {Step::reduce_pressure, "reduce-pressure"}, {Step::low_pressure_hold, "low-pressure-hold"},
    {Step::end_compression, "end-compression"}, {Step::dress_site, "dress-site"}, {Step::check_site, "check-site"}, {Step::raise_head, "raise-head"},
    {Step::sit_up, "sit-up"}, {Step::stand_and_walk, "stand-and-walk"}, {Step::check_after_walk, "check-after-walk"},
    {Step::ask_anticoagulant_plan, "ask-anticoagulant-plan"}, {Step::discharge_check, "discharge-check"}, {Step::call_clinician, "call-clinician"},
    {Step::print_sheet, "print-sheet"}, {Step::check_sheet, "check-sheet"}});

constexpr auto kFacts = std::to_array<std::pair<Fact, std::string_view>>({
    {Fact::sheath_size, "sheath-size"}, {Fact::side, "side"}, {Fact::vessel, "vessel"}, {Fact::closure, "closure"},
    {Fact::anticoagulant_history, "anticoagulant-history"}, {Fact::home_anticoagulants, "home-anticoagulants"}, {Fact::drug_identity, "drug-identity"},
    {Fact::stop_time, "stop-time"}, {Fact::dose_time, "dose-time"}, {Fact::act, "act"}, {Fact::aptt, "aptt"}, {Fact::analyser, "analyser"},
    {Fact::blood_pressure, "blood-pressure"}, {Fact::heart_rate, "heart-rate"}, {Fact::site_check, "site-check"}, {Fact::platelets, "platelets"},
    {Fact::inr, "inr"}, {Fact::haemoglobin, "haemoglobin"}, {Fact::fibrinogen, "fibrinogen"}, {Fact::creatinine, "creatinine"}, {Fact::weight, "weight"},
    {Fact::height, "height"}, {Fact::birth_date, "birth-date"}, {Fact::haemostasis_time, "haemostasis-time"}, {Fact::baseline_pulses, "baseline-pulses"},
    {Fact::anti_xa, "anti-xa"}, {Fact::liver_tests, "liver-tests"},
    {Fact::sheath_removal, "sheath-removal"}, {Fact::compression_start, "compression-start"}, {Fact::intervention, "intervention"},
    {Fact::puncture_quality, "puncture-quality"}, {Fact::bed_rest, "bed-rest"}, {Fact::dose, "dose"}});

constexpr auto kAgents = std::to_array<std::pair<Agent, std::string_view>>({
    {Agent::heparin, "heparin"}, {Agent::enoxaparin, "enoxaparin"}, {Agent::dalteparin, "dalteparin"}, {Agent::tinzaparin, "tinzaparin"},
    {Agent::fondaparinux, "fondaparinux"}, {Agent::bivalirudin, "bivalirudin"}, {Agent::argatroban, "argatroban"}, {Agent::eptifibatide, "eptifibatide"},
    {Agent::tirofiban, "tirofiban"}, {Agent::abciximab, "abciximab"}, {Agent::cangrelor, "cangrelor"}, {Agent::aspirin, "aspirin"},
    {Agent::clopidogrel, "clopidogrel"}, {Agent::prasugrel, "prasugrel"}, {Agent::ticagrelor, "ticagrelor"}, {Agent::warfarin, "warfarin"},
    {Agent::apixaban, "apixaban"}, {Agent::rivaroxaban, "rivaroxaban"}, {Agent::edoxaban, "edoxaban"}, {Agent::dabigatran, "dabigatran"},
    {Agent::alteplase, "alteplase"}, {Agent::tenecteplase, "tenecteplase"}, {Agent::reteplase, "reteplase"}, {Agent::protamine, "protamine"},
    {Agent::idarucizumab, "idarucizumab"}, {Agent::andexanet_alfa, "andexanet alfa"}, {Agent::vitamin_k, "vitamin k"},
    {Agent::prothrombin_complex, "prothrombin complex"}, {Agent::other_antithrombotic, "other antithrombotic"}, {Agent::other, "other"},
    {Agent::unidentified, "unidentified"}});

constexpr auto kAnalytes = std::to_array<std::pair<Analyte, std::string_view>>({
    {Analyte::act, "act"}, {Analyte::aptt, "aptt"}, {Analyte::anti_xa, "anti-xa"}, {Analyte::inr, "inr"}, {Analyte::platelets, "platelets"},
    {Analyte::haemoglobin, "haemoglobin"}, {Analyte::fibrinogen, "fibrinogen"}, {Analyte::creatinine, "creatinine"}, {Analyte::weight, "weight"},
    {Analyte::height, "height"}, {Analyte::systolic, "systolic"}, {Analyte::diastolic, "diastolic"}, {Analyte::mean_pressure, "mean-pressure"},
    {Analyte::heart_rate, "heart-rate"}, {Analyte::alanine_aminotransferase, "alanine-aminotransferase"},
    {Analyte::aspartate_aminotransferase, "aspartate-aminotransferase"}, {Analyte::bilirubin, "bilirubin"},
    {Analyte::oxygen_saturation, "oxygen-saturation"}, {Analyte::temperature, "temperature"}});

constexpr auto kUnits = std::to_array<std::pair<SettingUnit, std::string_view>>({
    {SettingUnit::second, "s"}, {SettingUnit::minute, "min"}, {SettingUnit::hour, "h"}, {SettingUnit::day, "d"}, {SettingUnit::year, "a"},
    {SettingUnit::french, "[Ch]"}, {SettingUnit::centimetre, "cm"}, {SettingUnit::mmhg, "mm[Hg]"}, {SettingUnit::per_minute, "/min"},
    {SettingUnit::ratio, "{INR}"}, {SettingUnit::percent, "%"}, {SettingUnit::count, "1"}, {SettingUnit::gram_per_litre, "g/L"},
    {SettingUnit::gram_per_decilitre, "g/dL"}, {SettingUnit::milligram_per_decilitre, "mg/dL"}, {SettingUnit::per_nanolitre, "10*9/L"},
    {SettingUnit::millilitre_per_minute, "mL/min"}, {SettingUnit::kilogram_per_square_metre, "kg/m2"}, {SettingUnit::square_metre, "m2"},
    {SettingUnit::unit_per_kilogram, "[iU]/kg"}, {SettingUnit::celsius, "Cel"}, {SettingUnit::millilitre, "mL"},
    {SettingUnit::unit_per_millilitre, "[iU]/mL"}, {SettingUnit::unit_per_litre, "U/L"},
    {SettingUnit::international_unit, "[iU]"}});

constexpr auto kEvents = std::to_array<std::pair<AccessEventKind, std::string_view>>({
    {AccessEventKind::sheath_inserted, "sheath-inserted"}, {AccessEventKind::sheath_removed, "sheath-removed"},
    {AccessEventKind::sheath_upsized, "sheath-upsized"}, {AccessEventKind::compression_started, "compression-started"},
    {AccessEventKind::pressure_changed, "pressure-changed"}, {AccessEventKind::compression_ended, "compression-ended"},
    {AccessEventKind::closure_failed, "closure-failed"}, {AccessEventKind::haemostasis_confirmed, "haemostasis-confirmed"},
    {AccessEventKind::rebleed, "rebleed"}, {AccessEventKind::sheath_in_place, "sheath-in-place"}});

static_assert(in_order(kGates) && in_order(kSteps) && in_order(kFacts) && in_order(kAgents) && in_order(kAnalytes) && in_order(kUnits) && in_order(kEvents));

}  // namespace

std::string_view name_of(GateName v) { return look_up(kGates, v); }
std::string_view name_of(Step v) { return look_up(kSteps, v); }
std::string_view name_of(Fact v) { return look_up(kFacts, v); }
std::string_view name_of(Agent v) { return look_up(kAgents, v); }
std::string_view name_of(Analyte v) { return look_up(kAnalytes, v); }
std::string_view name_of(SettingUnit v) { return look_up(kUnits, v); }
std::string_view name_of(AccessEventKind v) { return look_up(kEvents, v); }
std::optional<Step> step_named(std::string_view n) { return look_back(kSteps, n); }
std::optional<AccessEventKind> access_event_named(std::string_view n) { return look_back(kEvents, n); }
std::optional<Agent> agent_named(std::string_view n) { return look_back(kAgents, n); }
std::optional<Analyte> analyte_named(std::string_view n) { return look_back(kAnalytes, n); }

std::string_view name_of(GateState v) {
  constexpr std::string_view names[] = {"open", "closed", "needs", "ask"};
  return names[static_cast<std::size_t>(v)];
}
std::string_view name_of(AskedOf v) {
  constexpr std::string_view names[] = {"nurse", "operator", "pharmacy", "laboratory"};
  return names[static_cast<std::size_t>(v)];
}
std::string_view name_of(StepStatus v) {
  constexpr std::string_view names[] = {"blocked", "expected", "due", "done", "cancelled"};
  return names[static_cast<std::size_t>(v)];
}
std::string_view name_of(CaseState v) {
  constexpr std::string_view names[] = {"waiting", "sheath-in", "compressing", "resting", "walking", "finished", "withdrawn"};
  return names[static_cast<std::size_t>(v)];
}
std::string_view name_of(AlertLevel v) {
  constexpr std::string_view names[] = {"tell", "urgent", "emergency"};
  return names[static_cast<std::size_t>(v)];
}
std::string_view name_of(OrderKind v) {
  constexpr std::string_view names[] = {"bed-rest", "sheath-removal", "sheath-named", "drug"};
  return names[static_cast<std::size_t>(v)];
}
std::string_view name_of(Side v) {
  constexpr std::string_view names[] = {"unknown", "left", "right"};
  return names[static_cast<std::size_t>(v)];
}
std::string_view name_of(Vessel v) {
  constexpr std::string_view names[] = {"unknown", "artery", "vein"};
  return names[static_cast<std::size_t>(v)];
}
std::string_view name_of(Closure v) {
  constexpr std::string_view names[] = {"unknown", "manual", "mechanical", "device", "suture"};
  return names[static_cast<std::size_t>(v)];
}

}  // namespace clinical
