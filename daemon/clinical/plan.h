// What the service computes for a case. Plain values: no sentence, no JSON, no zone. Paper and record are rendered from this.
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "clinical/facts.h"

namespace clinical {

/// One argument of a reason. string: already a code or name; Instant: printed in the site's zone; seconds: a duration; Value: with its written text;
/// Moment: a time that is not known to the second, printed as precisely as it was recorded (see when()).
using Argument = std::variant<std::string, Instant, seconds, Value, std::int64_t, Moment>;
/// The time of a fact as a sentence says it: an instant where it is exact.
inline Argument when(const Moment& at) { return at.exact() ? Argument{at.latest} : Argument{at}; }

/// A sentence as a code with named arguments; words/ renders it from templates/. Codes are dotted: "gate.act.over-limit".
/// Never put an age or "now" into an argument: the written plan must not move with the seconds.
/// A string argument that starts with '@' names a term in templates/ ("@gate.act", "@agent.heparin"), or several ("@early.inr,early.pressure");
/// any other is printed as it is.
struct Reason {
  std::string code;
  std::vector<std::pair<std::string, Argument>> arguments;
  friend bool operator==(const Reason&, const Reason&) = default;
};

/// What made a value: the protocol setting (key) with its published source, the facts, and the arithmetic.
struct Basis {
  std::string rule;       ///< setting key, "rest.artery.per-french"
  std::string source;     ///< the setting's source text
  std::vector<Source> inputs;
  Reason arithmetic;
  friend bool operator==(const Basis&, const Basis&) = default;
};

// Order of the enumerators is the order of printing; names by gate_name()/step_code()/fact_name(), see names.h.
enum class GateName {
  access, site_status, anticoagulant_history, home_anticoagulants, act, aptt, heparin_clock, gp_inhibitor, low_molecular_weight_heparin,
  fondaparinux, bivalirudin, argatroban, direct_oral_anticoagulant, warfarin_inr, fibrinolytic, platelets, blood_pressure, heart_rate, haemoglobin
};
enum class GateState { open, closed, needs, ask };

enum class Fact {
  sheath_size, side, vessel, closure, anticoagulant_history, home_anticoagulants, drug_identity, stop_time, dose_time, act, aptt, analyser,
  blood_pressure, heart_rate, site_check, platelets, inr, haemoglobin, fibrinogen, creatinine, weight, height, birth_date, haemostasis_time,
  baseline_pulses, anti_xa, liver_tests, sheath_removal, compression_start, intervention, puncture_quality, bed_rest, dose
};
enum class AskedOf { nurse, operator_, pharmacy, laboratory };

enum class Step {
  provide_missing, draw_coagulation, confirm_readiness, remove_sheath, firm_compression, partial_compression, light_compression, reduce_pressure,
  low_pressure_hold, end_compression, dress_site, check_site, raise_head, sit_up, stand_and_walk, check_after_walk, ask_anticoagulant_plan,
  discharge_check, call_clinician, print_sheet, check_sheet
};
enum class StepStatus { blocked, expected, due, done, cancelled };
enum class CaseState { waiting, sheath_in, compressing, resting, walking, finished, withdrawn };
enum class AlertLevel { tell, urgent, emergency };

struct Gate {
  GateName name{};
  GateState state = GateState::needs;
  std::optional<Instant> opens_at;    ///< only with closed, only where a clock alone opens it
  std::optional<Instant> expires_at;  ///< last instant (inclusive) at which the value it rests on is fresh; none: does not expire
  std::optional<Instant> since;       ///< open, and every other gate too: since when
  std::optional<Instant> clock_ends;  ///< a clock that ends an ask or stands beside a need: enters `expected`, never `earliest`
  std::vector<Fact> needs;            ///< facts asked for (also for open gates: asked for without holding the gate)
  std::string value_seen;             ///< what a decision must quote; empty: none
  Reason why;
  std::string rule, source;
  std::vector<Source> inputs;
};

struct Milestone {
  Step step{};
  int ordinal = 0;                     ///< of several of one step (check series, draws): 1..; else 0
  StepStatus status = StepStatus::blocked;
  std::optional<Instant> earliest, expected, latest, actual;
  std::optional<minutes> planned;      ///< length of the step, or hours of rest, as minutes
  std::optional<minutes> after_t0;
  bool released = false;               ///< its Task stands in the worklist: not blocked, not done, starts within case.release-window
  bool late = false;                   ///< its last safe instant has passed and it is not done
  std::optional<Reason> why;           ///< why blocked / cancelled / what to do; shown with the step
  std::vector<Basis> basis;
};

struct Projection {
  Micro limit = 0;                     ///< s
  std::optional<Instant> p10, p50, p90;  ///< when 10 / 50 / 90 % of the curves have crossed the limit
  std::optional<Instant> next_draw;
  bool computed = false;               ///< false: only next_draw may be set
};

struct AgentRow {
  Agent agent{};
  std::optional<Instant> last_given;   ///< end of the last dose; none while running or unknown
  bool running = false;
  std::optional<double> fraction_left; ///< of the amount present at the last stop; moves with now, so no part of the written view
  std::optional<minutes> half_life;
  std::vector<Basis> basis;
  std::optional<Value> total;          ///< total given in the case's window, canonical unit
  std::optional<Value> total_per_kg;
};

struct Clearance {
  double millilitres_per_minute = 0;   ///< the lower of actual and adjusted weight, unrounded
  std::vector<Basis> basis;
};

struct Missing {
  Fact fact{};
  AskedOf asked_of = AskedOf::nurse;
  std::vector<Step> blocks;
  std::string site;                    ///< site key, empty: of the case
  std::string about{};                 ///< finer word: "second-haemoglobin"; empty: the fact itself
};
struct Conflict {
  Fact fact{};                         ///< the fact in dispute
  std::string about;                   ///< finer word: "t0-before-sheath-out"; empty: the fact itself
  std::vector<std::string> values;
  std::vector<Source> inputs;
  std::string site;
};
struct Alert {
  std::string trigger;                 ///< from the list in profiles/fhir: "haemoglobin-fall"
  AlertLevel level = AlertLevel::tell;
  std::string site;                    ///< site key, empty: of the patient
  std::string episode;                 ///< trigger + site + start of the episode
  Reason why;
  std::vector<Source> inputs;
  Instant since{};                     ///< start of the episode
  std::optional<Instant> raised_again{};  ///< the last time at which one that nobody took up is raised anew; none: not yet
};

/// An order that says otherwise than the plan. The plan keeps the later of two times, and no order that it does not keep is dropped in silence.
struct OrderClash {
  OrderKind kind{};
  std::string site;                    ///< site key, empty: every site
  Source order;
  std::string title;                   ///< of the order, as recorded
  Reason why;                          ///< what is ordered and what is planned
};

struct SitePlan {
  std::string key;                     ///< "Procedure/p1" that describes the site (with "#2" where one Procedure has two)
  Side side = Side::unknown;
  Vessel vessel = Vessel::unknown;
  std::optional<int> french;           ///< next whole French of the largest ever; none: unknown or contradicted
  Closure closure = Closure::unknown;
  Direction direction = Direction::unknown;
  std::optional<Instant> sheath_out, compression_started, t0;
  int haemostases = 0;                 ///< how many T0s the site has had (a rebleed voids one): the generation in identities
  std::vector<Instant> rebleeds;       ///< counted, by time
  bool high_watch = false;
  std::vector<Reason> watched_for;     ///< why the closer watch, each once; empty: the usual one
  std::string baseline_pulses;
  std::vector<AccessEvent> compression_log;  ///< starts, changes of pressure and ends as recorded, by time
  std::optional<SiteCheck> last_check;
  std::vector<Gate> gates;             ///< in GateName order, those that apply
  std::vector<Milestone> milestones;   ///< in order of the course; the patient's milestones stand in each site
  std::optional<Projection> projection;
};

struct CasePlan {
  Source procedure;                    ///< the index Procedure
  std::string procedure_identifier;    ///< "system|value" of its business identifier, else empty
  std::string title, encounter, place, operator_name;
  Patient patient;
  std::optional<Instant> started;
  bool provisional = false;
  CaseState state = CaseState::waiting;
  std::optional<Reason> stopped;       ///< with state withdrawn: why; none there: its Procedure no longer stands
  std::optional<Reason> gone;          ///< then: what became of the Procedure; none: not known
  std::optional<Instant> next_change, valid_until, up_at;
  std::string up_site;                 ///< key of the site that decides up_at
  std::vector<SitePlan> sites;
  std::vector<AgentRow> agents;
  std::optional<Clearance> clearance;
  std::vector<Missing> missing;
  std::vector<Conflict> conflicts;
  std::vector<Alert> alerts;
  std::vector<OrderClash> order_clashes; ///< by kind, site and order
  std::vector<Reason> cautions;        ///< what to keep in mind with this patient; asks for nothing
  std::vector<Measurement> shown_values;  ///< newest value of each analyte in the window, for the sheet
  std::vector<Administration> shown_doses;///< the case's antithrombotic doses, for the sheet
};

}  // namespace clinical
