// What the record says of one patient: plain values, read from any source, before any rule is applied.
// Every fact carries its source with version. Canonical units stand beside each field. Absent optionals mean "not recorded".
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "clinical/instant.h"
#include "clinical/value.h"

namespace clinical {

/// Where a fact came from. `reference` is "Type/id" as the record knows it, `version` its version id or empty.
struct Source {
  std::string reference;
  std::string version;
  bool low_confidence = false;  ///< read from free text
  friend auto operator<=>(const Source&, const Source&) = default;
};

template <class T>
struct Recorded {
  T value{};
  Source source;
  friend bool operator==(const Recorded&, const Recorded&) = default;
};

enum class Side { unknown, left, right };
enum class Vessel { unknown, artery, vein };
enum class Closure { unknown, manual, mechanical, device, suture };
enum class Direction { unknown, retrograde, antegrade };
enum class Tristate { unknown, no, yes };

struct Identifier {
  std::string system, value;
  friend auto operator<=>(const Identifier&, const Identifier&) = default;
};

enum class Sex { unknown, female, male, other };

struct Patient {
  Source source;
  std::vector<Identifier> identifiers;
  std::string name;             ///< as it is to be printed, NFC; empty: no name recorded
  std::string record_number;    ///< the identifier to print
  std::optional<Moment> birth;  ///< a partial date spans
  std::string birth_written;    ///< "1958-04-11" as recorded
  Sex sex = Sex::unknown;
  bool active = true;
  bool deceased = false;
  std::string merged_into;      ///< "Patient/x" from link replaced-by; empty: none
  bool test_data = false;       ///< carries HTEST itself
};

struct Encounter {
  Source source;
  bool in_progress = false;
  std::optional<Moment> start, end;  ///< end: discharge, only when recorded as finished
  std::string place;                 ///< unit and bed as printed; empty: not recorded
  std::string place_reference;       ///< "Location/x"
};

enum class ProcedureStatus { preparation, in_progress, on_hold, stopped, completed, not_done, entered_in_error, unknown };

/// A Procedure that names, denies or might have a femoral access. entered-in-error never becomes one of these.
struct Procedure {
  Source source;
  std::vector<Identifier> identifiers;
  ProcedureStatus status = ProcedureStatus::unknown;
  std::string title;                    ///< code text or display, for people
  std::optional<Moment> start, end;     ///< performed[x]; a dateTime sets both
  std::string part_of;                  ///< "Procedure/x" or empty
  std::string encounter;                ///< "Encounter/x" or empty
  bool catheter = false;                ///< its code is in the value set of catheter procedures
  bool femoral = false;                 ///< body site, approach or the extension says femoral
  bool femoral_denied = false;          ///< extension femoral-access = false
  bool femoral_stated = false;          ///< extension femoral-access = true: an index case whatever its code
  Tristate intervention = Tristate::unknown;  ///< coronary, peripheral, valve, aortic intervention: counts as PCI
  // Everything the resource (and the Devices it names) says; several differing values are a contradiction.
  std::vector<Recorded<Side>> sides;
  std::vector<Recorded<Vessel>> vessels;
  std::vector<Recorded<Micro>> french;      ///< French (Charriere) as written, fractions kept
  std::vector<Recorded<Closure>> closures;
  std::optional<int> punctures;
  bool difficult = false, high_stick = false, low_stick = false;
  bool uncomplicated = false;           ///< recorded: one attempt, at the usual height
  Direction direction = Direction::unknown;
  std::string operator_name;
  std::string place;                    ///< location display
  std::optional<Instant> known_since;   ///< when the service first heard of it: a check that was due before is nobody's to miss; none: not told
  /// Since when the service has told of the closer watch, by site key; a site that is not in it: not before now. None: nobody keeps it, and the
  /// closer watch counts from the beginning.
  std::optional<std::map<std::string, Instant>> closer_since;
};

enum class AccessEventKind {
  sheath_inserted, sheath_removed, sheath_upsized, compression_started, pressure_changed, compression_ended,
  closure_failed, haemostasis_confirmed, rebleed,
  sheath_in_place  ///< seen or recorded as in at that time; it moves no clock
};

struct AccessEvent {
  Source source;
  AccessEventKind kind{};
  std::optional<Moment> at;             ///< start for starts, end for ends
  bool recording_time_only = false;     ///< `at` is when it was written down, not when it happened
  std::string procedure;                ///< the index or site Procedure it names, "Procedure/x"; empty: none
  Side side = Side::unknown;
  Vessel vessel = Vessel::unknown;
  std::optional<Micro> french;
  Closure method = Closure::unknown;
  std::optional<Value> pressure;        ///< mmHg
  bool from_task = false;
  bool time_conflict = false;           ///< two times over 5 min apart in one resource
};

/// Generic ingredient, or a class of drug where there is no more.
enum class Agent {
  heparin, enoxaparin, dalteparin, tinzaparin, fondaparinux, bivalirudin, argatroban, eptifibatide, tirofiban, abciximab, cangrelor,
  aspirin, clopidogrel, prasugrel, ticagrelor, warfarin, apixaban, rivaroxaban, edoxaban, dabigatran, alteplase, tenecteplase, reteplase,
  protamine, idarucizumab, andexanet_alfa, vitamin_k, prothrombin_complex,
  other_antithrombotic,  ///< known to act on clotting, no rule here
  other,                 ///< recognised, not an antithrombotic
  unidentified           ///< might be anything
};

enum class AdministrationStatus { in_progress, on_hold, completed, stopped, unknown };  // not-done and entered-in-error never get here
enum class Route { unknown, intravenous, subcutaneous, intra_arterial, oral, other };
enum class DoseUnit { international_unit, milligram, other };

struct Dose {
  Value amount;
  DoseUnit unit = DoseUnit::other;
  bool per_kg = false;
};
struct Rate {
  Value amount;           ///< per hour
  DoseUnit unit = DoseUnit::other;
  bool per_kg = false;
};

struct Administration {
  Source source;
  Agent agent = Agent::unidentified;
  std::string name;                 ///< as recorded, for people
  AdministrationStatus status = AdministrationStatus::unknown;
  Route route = Route::unknown;
  bool flush = false;               ///< flush or pressure-bag product, or so marked
  std::optional<Moment> start, end; ///< a single dateTime sets both (`bolus`)
  bool bolus = false;
  std::optional<Dose> dose;
  std::optional<Rate> rate;
  std::string encounter;
};

struct HomeDrug {
  Source source;
  Agent agent = Agent::unidentified;
  std::string name;
  bool taken = true;                ///< false: recorded as not taken
  bool told_by_request = false;     ///< request or dispense: tells only with a last dose
  std::optional<Moment> last_dose;
  std::optional<Moment> recorded;
};

/// A list of home drugs; nil_known: recorded as "there are none".
struct HomeList {
  Source source;
  bool nil_known = false;
  std::optional<Moment> at;
};

enum class StatementKind { no_anticoagulant_given, no_home_anticoagulant, coagulation_test_unavailable };
struct Statement {
  Source source;
  StatementKind kind{};
  std::optional<Moment> at;
  std::string procedure;   ///< when it names one
};

/// The record holds a fact in a version of after a decision.
struct ChangedSince {
  std::string reference;
  Instant at{};            ///< by the clock of the decision
};

/// A clinician's recorded answer to an `ask`. `subject` is a gate name or a step code.
struct Decision {
  Source source;
  std::string subject;
  std::string value_seen;
  std::string performer;   ///< empty: not usable
  std::optional<Moment> at;
  bool refused = false;    ///< recorded as a no: it opens nothing, and ends what was decided before it
  std::vector<ChangedSince> changed_since;  ///< by reference; empty too where the record tells no time of its versions
};

enum class Analyte {
  act, aptt, anti_xa, inr, platelets, haemoglobin, fibrinogen, creatinine, weight, height,
  systolic, diastolic, mean_pressure, heart_rate, alanine_aminotransferase, aspartate_aminotransferase, bilirubin, oxygen_saturation, temperature
};
// Canonical units: s, s, [iU]/mL, {INR}, 10*9/L, g/dL, g/L, mg/dL, kg, cm, mm[Hg] x3, /min, U/L, U/L, mg/dL, %, Cel.

struct Measurement {
  Source source;
  Analyte analyte{};
  std::optional<Value> value;      ///< none: absent with a reason
  std::string impossible;          ///< the number and unit of one that it cannot be ("5 s"); then there is no value; empty: none is recorded so
  std::string unread;              ///< as recorded, where no value could be made of it ("7.0" without a unit, "high"); then there is no value; empty: none is recorded so
  std::optional<Moment> at;        ///< drawn or measured, never resulted
  bool preliminary = false;
  std::string analyser;            ///< device or method; empty: unknown, never equal to anything
  std::string analyser_reference;  ///< "Device/x" where it is recorded as a resource
  std::string sampling_site;       ///< empty: unknown
  std::string test_code;           ///< LOINC code; values of different codes are never trended together
};

enum class Bleeding { none, ooze, bleeding };
/// Always against the baseline, never against a scale: "2+" is normal in one scale and weak in another.
enum class FootPulse { as_baseline, weaker, absent };

/// A part of a check that somebody recorded and nobody here can read: free text, no unit, another unit, an unknown word.
struct UnreadPart {
  std::string what;                ///< the finding by its code, "foot-pulse"
  std::string said;                ///< the words as recorded, "4 x 6 cm"; never empty
};

struct SiteCheck {
  Source source;
  std::optional<Moment> at;
  std::string procedure;           ///< when it names one
  Side side = Side::unknown;
  std::optional<Bleeding> bleeding;
  std::optional<Value> swelling;   ///< cm
  std::optional<bool> growth;
  std::optional<FootPulse> foot_pulse;
  bool back_pain = false;
  std::string baseline_pulses;     ///< as recorded; empty: not recorded
  std::string pulses;              ///< as felt at this check, for people: judged is `foot_pulse` alone
  std::string pulse_scale;         ///< of both; empty: not recorded
  // More where recorded; none: not recorded, which is not "no".
  std::optional<FootPulse> colour, warmth, feeling, movement;  ///< of the foot and leg, against the baseline
  std::optional<Value> pain;       ///< 0 to 10
  std::optional<bool> chest_pain, neurological_sign, mass_or_bruit, skin_damage, dizziness, voided;
  std::optional<Value> bladder;    ///< mL at a scan
  bool wet_dressing = false;
  std::vector<UnreadPart> unread;  ///< of groin and foot, in the order of the record; its own field above is then empty
  bool wet() const { return wet_dressing || bleeding.value_or(Bleeding::none) != Bleeding::none; }
  bool complete() const { return bleeding && swelling && growth && foot_pulse && unread.empty(); }
  /// Looks at bleeding, swelling or the foot's pulse, whatever of it can be read: where it is not complete, an older one does not stand in for it.
  bool looks() const { return bleeding || swelling || growth || foot_pulse || wet_dressing || !unread.empty(); }
  /// Says something of groin or foot; else it is about the patient alone (urine, pain, dizziness).
  bool of_a_groin() const { return looks() || colour || warmth || feeling || movement || mass_or_bruit || skin_damage; }
};

enum class RiskKind {
  pregnancy, dialysis, liver_disease, heparin_induced_thrombocytopenia, agitation, cough, steroids,
  arterial_disease, severe_arterial_disease, calcification, graft, bleeding_disorder,
  allergy_heparin, allergy_protamine, allergy_latex, allergy_adhesive, allergy_local_anaesthetic
};
struct Risk {
  Source source;
  RiskKind kind{};
  bool present = true;             ///< false: recorded as absent
  Side side = Side::unknown;
  std::optional<Moment> from, to;
};

enum class TaskState { requested, ready, accepted, in_progress, on_hold, completed, failed, rejected, cancelled, other };
/// A Task of ours as somebody left it.
struct TaskFact {
  Source source;
  std::string identity;            ///< value of our item identifier
  std::string step;                ///< step code
  TaskState state = TaskState::other;
  std::string owner;
  std::optional<Moment> changed;   ///< a completed one: when it was done, as the Task says
  std::string procedure;           ///< the index or site Procedure it names, "Procedure/p1"; empty: none
  Side side = Side::unknown;       ///< of the access site it names
  Vessel vessel = Vessel::unknown;
};

/// A clinician's standing order. It is no fact of what was done: it lengthens, holds back and is shown, and opens nothing.
enum class OrderKind { bed_rest, sheath_removal, sheath_named, drug };  ///< sheath_named: about the sheath, and not whether it stays in
struct Order {
  Source source;
  OrderKind kind{};
  std::string title;                 ///< as recorded, for people
  std::optional<Moment> written;
  std::string procedure;             ///< the index or site Procedure it names; empty: none
  Side side = Side::unknown;
  bool forbids = false;              ///< "do not", or on hold: no sheath removal until it is withdrawn
  bool negated = false;              ///< forbids because it is recorded as an order not to do what its title says
  bool suspended = false;            ///< forbids because it is on hold
  bool unclear = false;              ///< its words set a condition or an end that could not be read: the step it is about waits until somebody makes it clear
  std::optional<minutes> length;     ///< bed rest, from haemostasis
  std::optional<Moment> until;       ///< bed rest up to then
  std::optional<Moment> not_before;  ///< sheath removal
  std::optional<Value> act_below;    ///< sheath removal only with an activated clotting time under this (s), the lowest that it names
  Agent agent = Agent::unidentified; ///< drug
  std::vector<Moment> due;           ///< doses with a recorded time, in order; empty: not said when
};

/// The record says that it keeps facts of this kind back: what it shows may not be all.
enum class WithheldKind { everything, drugs, values, findings };
struct Withheld {
  Source source;
  WithheldKind kind{};
  std::optional<Moment> until;       ///< none: until it is withdrawn
};

/// A drug named in an answer or a report: never a fact, at most a reason to ask.
struct Remark {
  Source source;
  Agent agent = Agent::unidentified;
  std::string text;                  ///< the words around it, shortened
};

/// Somebody whom the record names as in charge of the patient.
struct Contact {
  Source source;
  std::string who, role;             ///< as recorded; role may be empty
  std::string phone, phone_source;   ///< as written, and the resource that says so ("PractitionerRole/x"); empty: no number is recorded
  std::optional<Moment> from, until;
};

struct Record {
  Patient patient;
  std::vector<Encounter> encounters;
  std::vector<Procedure> procedures;
  std::vector<AccessEvent> access_events;
  std::vector<Administration> administrations;
  std::vector<HomeDrug> home_drugs;
  std::vector<HomeList> home_lists;
  std::vector<Statement> statements;
  std::vector<Decision> decisions;
  std::vector<Measurement> measurements;
  std::vector<SiteCheck> checks;
  std::vector<Risk> risks;
  std::vector<TaskFact> tasks;
  std::vector<Order> orders;
  std::vector<Withheld> withheld;
  std::vector<Remark> remarks;
  std::vector<Contact> contacts;     ///< in the order of the record
};

}  // namespace clinical
