#include <algorithm>
#include <numeric>
#include <set>

#include "clinical/change.h"
#include "clinical/change_fingerprint.h"
#include "clinical/names.h"
#include "clinical/phrases.h"
#include "clinical/site_steps.h"

namespace clinical {
namespace {

// Steps that lead to the next T0 belong to the round that began after the last one.
int generation_of(const SitePlan& site, Step step) {
  return step <= Step::dress_site && site.t0 ? site.haemostases - 1 : site.haemostases;
}

class Collector {
 public:
  Collector(const CasePlan& plan, const WantedOptions& options) : plan_(plan), options_(options) {}

  Wanted collect(const std::string& protocol_hash) {
    for (const int sheet : options_.sheets_on_paper) wanted_.done.push_back(paper_key(sheet));
    if (plan_.state == CaseState::withdrawn) {
      wanted_.stopped = plan_.stopped;
      if (options_.paper && options_.paper->is_void) add_paper(*options_.paper);
      return std::move(wanted_);
    }
    add_whole_case(ItemKind::care_plan, care_plan_fingerprint(plan_, protocol_hash));
    add_whole_case(ItemKind::document, sheet_fingerprint(plan_));
    add_whole_case(ItemKind::guidance, guidance_fingerprint(plan_));
    if (!plan_.provisional)
      for (const auto& clash : plan_.order_clashes) add_clash(clash);
    if (plan_.state != CaseState::finished) add_tasks();
    else for (const auto& alert : plan_.alerts) add_alert(alert);
    mark_last();
    std::ranges::sort(wanted_.items, {}, [](const Item& item) { return text_of(item.key); });
    return std::move(wanted_);
  }

 private:
  ItemKey key(ItemKind kind, std::optional<Step> step = {}) const { return {kind, options_.intent, step, {}, 0, 0, {}, 0}; }

  void add_whole_case(ItemKind kind, std::string fingerprint) {
    Item item;
    item.key = key(kind);
    item.fingerprint = std::move(fingerprint);
    item.inputs = inputs_of(plan_);
    wanted_.items.push_back(std::move(item));
  }

  void add_tasks() {
    for (const auto& site : plan_.sites)
      for (const auto& milestone : site.milestones) add_milestone(site, milestone);
    add_missing();
    if (plan_.provisional) return;
    if (options_.paper) add_paper(*options_.paper);
    if (options_.unreadable) add_unreadable(*options_.unreadable);
    for (const auto& site : plan_.sites)
      for (const auto& gate : site.gates)
        if (gate.state == GateState::ask) add_ask(site, gate);
    for (const auto& alert : plan_.alerts) add_alert(alert);
  }

  void add_clash(const OrderClash& clash) {
    Item item;
    item.key = key(ItemKind::order_clash);
    item.key.site = clash.site;
    item.key.cause = std::string(name_of(clash.kind)) + " " + clash.order.reference;
    item.sites = clash.site.empty() ? all_sites() : std::vector{clash.site};
    item.subject = name_of(clash.kind);
    item.value_seen = clash.title;
    item.why = clash.why;
    item.inputs = {clash.order};
    Digest content, note;
    content.add(clash.why);
    note.add(plan_.patient.source).add(plan_.patient.name).add(plan_.patient.birth_written);
    item.fingerprint = content.hex() + ";" + note.hex();
    wanted_.items.push_back(std::move(item));
  }

  ItemKey paper_key(int sheet) const {
    ItemKey paper = key(ItemKind::task, Step::print_sheet);
    paper.cause = "sheet " + std::to_string(sheet);
    return paper;
  }

  void add_paper(const PaperNeeded& paper) {
    Item item;
    item.key = paper_key(paper.sheet);
    item.sites = all_sites();
    item.priority = Priority::urgent;
    item.why = paper.why;
    item.subject = std::to_string(paper.sheet);
    item.value_seen = paper.is_void ? "void" : "";
    add_task(std::move(item));
  }

  void add_unreadable(const Reason& why) {
    Item item;
    item.key = key(ItemKind::task, Step::check_sheet);
    item.key.cause = "name";
    item.sites = all_sites();
    item.priority = Priority::urgent;
    item.why = why;
    add_task(std::move(item));
  }

  void add_milestone(const SitePlan& site, const Milestone& milestone) {
    if (options_.patient_steps_elsewhere && is_patient_step(milestone.step)) return;
    if (milestone.step == Step::call_clinician && milestone.ordinal >= kFirstGateCall) return;  // add_ask
    if (milestone.step == Step::provide_missing || milestone.step == Step::print_sheet || milestone.step == Step::check_sheet) return;
    Item item;
    item.key = key(ItemKind::task, milestone.step);
    item.key.ordinal = milestone.ordinal;
    const bool shared = is_shared_step(milestone.step);
    if (!shared) item.key.site = site.key;
    item.key.generation = shared ? shared_generation(milestone.step) : generation_of(site, milestone.step);
    if (milestone.status == StepStatus::done || milestone.status == StepStatus::cancelled) wanted_.done.push_back(item.key);
    if (milestone.status == StepStatus::cancelled) wanted_.passed.push_back(item.key);
    if (!milestone.released || !seen_.insert(item.key).second) return;
    item.sites = shared ? all_sites() : std::vector{site.key};
    item.start = milestone.earliest;
    item.end = milestone.latest;
    item.why = milestone.why;
    item.milestone = milestone;
    for (const auto& basis : milestone.basis) item.inputs.insert(item.inputs.end(), basis.inputs.begin(), basis.inputs.end());
    const bool gating = milestone.step == Step::draw_coagulation || milestone.step == Step::confirm_readiness || milestone.step == Step::call_clinician;
    item.priority = milestone.late || gating ? Priority::urgent : Priority::routine;
    add_task(std::move(item));
  }

  void add_missing() {
    if (plan_.missing.empty() && plan_.conflicts.empty()) return;
    Item item;
    item.key = key(ItemKind::task, Step::provide_missing);
    item.sites = all_sites();
    std::set<std::string> points;
    for (const auto& m : plan_.missing) {
      points.insert(std::string(name_of(m.fact)) + "@" + m.site);
      if (!m.blocks.empty()) item.priority = Priority::urgent;
    }
    for (const auto& c : plan_.conflicts) {
      points.insert(std::string(name_of(c.fact)) + "/" + (c.about.empty() ? "conflict" : c.about) + "@" + c.site);
      item.priority = Priority::urgent;
      item.inputs.insert(item.inputs.end(), c.inputs.begin(), c.inputs.end());
    }
    for (const auto& point : points) item.fingerprint += point + "+";  // readable: a claimed Task that asks for more than is missing may stand
    add_task(std::move(item));
  }

  void add_ask(const SitePlan& site, const Gate& gate) {
    Item item;
    item.key = key(ItemKind::task, Step::call_clinician);
    item.key.site = site.key;
    item.key.generation = generation_of(site, Step::remove_sheath);
    item.key.cause = "gate " + std::string(name_of(gate.name));
    item.sites = {site.key};
    item.priority = Priority::urgent;
    item.why = gate.why;
    item.subject = name_of(gate.name);
    item.value_seen = gate.value_seen;
    item.inputs = gate.inputs;
    add_task(std::move(item));
  }

  void add_alert(const Alert& alert) {
    Item item;
    item.key = key(ItemKind::task, Step::call_clinician);
    item.key.site = alert.site;
    item.key.cause = alert.trigger + " " + alert.episode;
    item.sites = alert.site.empty() ? all_sites() : std::vector{alert.site};
    item.priority = alert.level == AlertLevel::emergency ? Priority::stat : alert.level == AlertLevel::urgent ? Priority::urgent : Priority::routine;
    item.why = alert.why;
    item.subject = alert.trigger;
    item.value_seen = name_of(alert.level);
    item.inputs = alert.inputs;
    item.raised_again = alert.raised_again;
    add_task(std::move(item));
  }

  // Fills the fingerprint: what the Task tells somebody to do is content; how it is put, where the bed is and whose name it shows is a note.
  void add_task(Item item) {
    Digest content, note;
    content.add(item.fingerprint).add(item.subject).add(item.value_seen).add(item.end);
    if (item.milestone) content.add(item.milestone->planned);
    for (const auto& name : item.sites) add_site(content, name);
    note.add(item.why).add(item.raised_again).add(static_cast<std::int64_t>(item.priority)).add(plan_.encounter).add(plan_.place);
    note.add(plan_.patient.source).add(plan_.patient.name).add(plan_.patient.birth_written).add(plan_.patient.record_number);
    if (item.milestone) {
      if (waits_for_emergency(plan_, *item.milestone)) note.add(std::string_view("emergency"));
      for (const auto& basis : item.milestone->basis) note.add(basis.arithmetic);
    }
    if (item.key.step == Step::remove_sheath || item.key.step == Step::confirm_readiness)
      note.add(first_expiry(*std::ranges::find(plan_.sites, item.key.site, &SitePlan::key)));
    const std::string points = item.fingerprint.empty() ? "" : "/" + item.fingerprint;
    item.fingerprint = task_content(item.start, content) + points + ";" + note.hex();
    wanted_.items.push_back(std::move(item));
  }

  void add_site(Digest& digest, const std::string& name) const {
    const auto site = std::ranges::find(plan_.sites, name, &SitePlan::key);
    digest.add(name);
    if (site == plan_.sites.end()) return;
    digest.add(name_of(site->side)).add(name_of(site->vessel)).add(std::int64_t{site->french.value_or(-1)}).add(name_of(site->closure));
  }

  // By start, the key settling ties, so that equal plans agree on which Task is the last.
  void mark_last() {
    Item* last = nullptr;
    for (auto& item : wanted_.items)
      if (item.milestone && item.start && (!last || std::pair(*last->start, text_of(last->key)) < std::pair(*item.start, text_of(item.key)))) last = &item;
    if (!last) return;
    last->last = true;
    last->fingerprint += " last";
  }

  std::vector<std::string> all_sites() const {
    std::vector<std::string> keys;
    for (const auto& site : plan_.sites) keys.push_back(site.key);
    return keys;
  }

  int shared_generation(Step step) const {
    if (step == Step::draw_coagulation) return 0;
    return std::accumulate(plan_.sites.begin(), plan_.sites.end(), 0, [](int sum, const SitePlan& site) { return sum + site.haemostases; });
  }

  const CasePlan& plan_;
  const WantedOptions& options_;
  Wanted wanted_;
  std::set<ItemKey> seen_;
};

}  // namespace

Wanted wanted(const CasePlan& plan, const Protocol& protocol, const WantedOptions& options) {
  return Collector(plan, options).collect(protocol.sha256);
}

bool patient_steps_elsewhere(const std::vector<CasePlan>& plans, std::size_t index) {
  const auto open = [](const CasePlan& plan) { return plan.state != CaseState::finished && plan.state != CaseState::withdrawn; };
  return std::any_of(plans.begin() + static_cast<std::ptrdiff_t>(index) + 1, plans.end(), [&](const CasePlan& later) {
    return open(later) && !later.provisional && later.patient.source.reference == plans[index].patient.source.reference;
  });
}

std::optional<Instant> first_expiry(const SitePlan& site) {
  std::optional<Instant> first;
  for (const auto& gate : site.gates)
    if (gate.state == GateState::open && gate.expires_at && (!first || *gate.expires_at < *first)) first = gate.expires_at;
  return first;
}

std::vector<Source> inputs_of(const CasePlan& plan) {
  std::set<Source> all{plan.procedure};
  const auto add = [&](const std::vector<Source>& inputs) { all.insert(inputs.begin(), inputs.end()); };
  const auto add_basis = [&](const std::vector<Basis>& bases) {
    for (const auto& basis : bases) add(basis.inputs);
  };
  all.insert(plan.patient.source);
  for (const auto& site : plan.sites) {
    for (const auto& gate : site.gates) add(gate.inputs);
    for (const auto& milestone : site.milestones) add_basis(milestone.basis);
    if (site.last_check) all.insert(site.last_check->source);
  }
  for (const auto& row : plan.agents) add_basis(row.basis);
  if (plan.clearance) add_basis(plan.clearance->basis);
  for (const auto& conflict : plan.conflicts) add(conflict.inputs);
  for (const auto& alert : plan.alerts) add(alert.inputs);
  for (const auto& value : plan.shown_values) all.insert(value.source);
  for (const auto& dose : plan.shown_doses) all.insert(dose.source);
  std::erase_if(all, [](const Source& source) { return source.reference.empty(); });
  return {all.begin(), all.end()};
}

}  // namespace clinical
