// What should stand in the record for a plan, and the difference from what stands there. Pure: no JSON, no clock, no sentence.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "clinical/plan.h"
#include "clinical/protocol.h"

namespace clinical {

/// cancellation: asks the holder of a claimed Task to stop; its other key fields are those of that Task.
/// order_clash: of an order with the plan; its cause is the kind and the order, "drug MedicationRequest/m".
enum class ItemKind { care_plan, task, cancellation, document, guidance, order_clash };
enum class Intent { proposal, plan, order };
enum class Priority { routine, urgent, stat };

/// Identity of something we write, without the record and the case. Never a due time, a protocol version or a patient.
struct ItemKey {
  ItemKind kind{};
  Intent intent = Intent::proposal;
  std::optional<Step> step;  ///< tasks and cancellations
  std::string site;          ///< SitePlan::key; empty: of the patient or the case
  int generation = 0;        ///< SitePlan::haemostases; the patient's steps: the sum over the sites
  int ordinal = 0;           ///< Milestone::ordinal; of a document: number of the sheet, 1..
  std::string cause;         ///< what is asked or alerted, where no ordinal tells items apart
  int replacement = 0;       ///< the n-th item in place of one that somebody touched, or that had ended
  friend auto operator<=>(const ItemKey&, const ItemKey&) = default;
};

/// "task|proposal|remove-sheath|0|0|0|Procedure/p1|": stored, and hashed into identities. key_from is its inverse.
std::string text_of(const ItemKey&);
std::optional<ItemKey> key_from(std::string_view);

struct Item {
  ItemKey key;
  /// "content;note": what is written, as digests. Of an item that somebody claimed only the content counts. A new validity, the versions
  /// of the inputs and expected/due are in neither part of a Task's. Of a document: one digest for each cause of a new sheet.
  std::string fingerprint;
  Priority priority = Priority::routine;
  std::optional<Instant> start, end;      ///< window in which it is wanted; none: from its writing on / no last instant
  std::optional<Milestone> milestone;     ///< tasks that stand for a milestone
  std::vector<std::string> sites;         ///< SitePlan::keys it speaks of, in the plan's order
  std::optional<Reason> why;              ///< what is asked or alerted
  std::optional<Instant> raised_again;    ///< of an alert: since when it stands raised anew, for nobody took it up; a note to one who did
  std::string subject, value_seen;        ///< of an ask: what a decision must quote (gate or step code, value); of a clash: name_of(OrderKind), title of the order
  std::vector<Source> inputs;
  bool last = false;                      ///< the last Task released so far: says what to do when no more come
};

struct Wanted {
  std::vector<Item> items;                ///< in the order of text_of(key)
  std::optional<Reason> stopped;          ///< of a withdrawn case: why; goes into what is ended
  std::vector<ItemKey> done;              ///< steps that are done or cancelled: no Task, and no alarm about one that still stands
  std::vector<ItemKey> passed;            ///< of these the cancelled: nobody recorded that they were done
};

/// A sheet that no printer brings out: somebody is asked to print it and hang it up; of a void sheet also to take the old one down.
struct PaperNeeded {
  int sheet = 0;                          ///< its number: a newer sheet is a new question
  bool is_void = false;                   ///< the one question that a withdrawn case may still have
  Reason why;                             ///< what the printer says
};

struct WantedOptions {
  Intent intent = Intent::proposal;
  bool patient_steps_elsewhere = false;   ///< a later open case of this patient carries the getting-up Tasks
  std::optional<PaperNeeded> paper{};
  std::optional<Reason> unreadable{};     ///< what of the person the sheet cannot show: somebody compares it with the wristband
  std::vector<int> sheets_on_paper{};     ///< numbers of sheets that came out: whoever was asked for them no longer is
};
/// proposal until the protocol carries its approvals, then plan.
Intent intent_for(const Protocol&);
/// True when a later case in `plans` that is still open is of the same patient as plans[index].
bool patient_steps_elsewhere(const std::vector<CasePlan>& plans, std::size_t index);

/// Everything that should stand now. A withdrawn case wants nothing; a finished one its CarePlan, sheet and answer, and no Task but that of an alert that outlasts it.
Wanted wanted(const CasePlan&, const Protocol&, const WantedOptions&);

enum class Stands {
  open,       ///< as we wrote it
  claimed,    ///< some version was written by somebody else, work may be going on
  completed, failed, rejected,  ///< ended by somebody (cancelled by somebody counts as rejected)
  withdrawn   ///< ended by us: cancelled, revoked, superseded
};
struct Standing {
  ItemKey key;
  std::string fingerprint;
  Stands state = Stands::open;
  std::string claimed_by;                 ///< for words; may be empty
  std::optional<Instant> ended;           ///< completed, failed, rejected: when
};

enum class ChangeKind { create, update, withdraw };
struct Change {
  ChangeKind kind{};
  ItemKey key;
  std::optional<Item> item;               ///< create, update; its key equals `key`
  std::optional<ItemKey> replaces;        ///< create: the Task or sheet whose place it takes; a cancellation: the Task to stop
  std::optional<Reason> reason;           ///< withdraw: why
};

struct Difference {
  /// Safe after every prefix: withdrawals (stand, sit, remove first), requests to stop, alarms, CarePlan, Tasks, sheet, answer.
  std::vector<Change> changes;
  std::vector<std::string> sheet_causes;  ///< of a new sheet: "side", "size", "closure", "t0", "conflict", "milestone", "gate", "missing", "caution", "validity", "person"
  /// The new sheet must not wait for more: something is not to be done now, somebody is asked to stop, or whose, where, T0, a conflict or a
  /// caution changed. False as well where there is no sheet yet, and where only permission, gates, what is missing or the validity moved.
  bool at_once = false;
  std::optional<Instant> again_at;        ///< when an item held back after a rejection may be proposed again
  bool empty() const { return changes.empty(); }
};

/// An open item is updated, a claimed one never: it gets a cancellation request and a successor, and an urgent call where going on would
/// be unsafe. A clash of an order that somebody settled is raised again only with another content. Any other item that somebody ended is proposed again at once when its content changed (a rejected one never), else after an hour.
/// Applying the changes and asking again gives no change.
Difference difference(const Wanted&, const std::vector<Standing>&, Instant now);

/// How `standing` looks once the changes are in place. Withdrawn items stay, so that their keys are not used again.
std::vector<Standing> applied(const Difference&, std::vector<Standing> standing);

/// A milestone that is not where it was. Each of the patient's milestones once, with an empty site.
struct Moved {
  Step step{};
  std::string site;
  int ordinal = 0;
  std::optional<StepStatus> status_from, status_to;  ///< none: not listed before / after
  std::optional<Instant> from, to;        ///< actual, else earliest, else expected
  std::optional<minutes> by;              ///< to - from, else by how much the planned length or the minutes after T0 grew
  std::vector<Source> because;            ///< facts that stand in the basis now and did not before (or in another version)
  std::vector<Source> gone;               ///< facts that no longer do
  std::optional<Reason> why;              ///< the next plan's word on the step
};
std::vector<Moved> moved(const CasePlan& previous, const CasePlan& next);

/// raise-head, sit-up, stand-and-walk, discharge-check: the same in each site.
bool is_patient_step(Step);
/// Steps that are one act however many sites there are: those, a blood draw, and the question for the anticoagulant plan.
bool is_shared_step(Step);
/// Earliest instant at which a value that holds a gate of this site open expires; none when none does.
std::optional<Instant> first_expiry(const SitePlan&);
/// Every fact the plan rests on, with versions, sorted, each once; the Procedure and the Patient among them.
std::vector<Source> inputs_of(const CasePlan&);

}  // namespace clinical
