#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "clinical/names.h"
#include "clinical/phrases.h"
#include "clinical/unread.h"
#include "sheet/lines_parts.h"

namespace sheet {
namespace {

std::string last_check(const Say& say, const clinical::SiteCheck& check, bool baseline_known, const std::vector<Instant>& rebleeds) {
  std::string found;
  const auto add = [&](const std::string& what) { found = say.listed(std::move(found), what); };
  const auto unknown = [&](std::string_view what) {
    const auto part = std::ranges::find(check.unread, what, &clinical::UnreadPart::what);
    if (part != check.unread.end()) return say.text("not-read", {{"what", say.label(what)}, {"said", part->said}});
    return say.text("not-recorded", {{"what", say.label(what)}});
  };
  using clinical::Bleeding;
  using clinical::FootPulse;
  add(!check.bleeding ? unknown("bleeding")
                      : say.label(*check.bleeding == Bleeding::none ? "dry" : *check.bleeding == Bleeding::ooze ? "ooze" : "bleeds"));
  const bool flat = check.swelling && check.swelling->exact() && check.swelling->micro == 0;
  add(flat ? say.label("no-swelling") : check.swelling ? say.text("swelling", {{"size", *check.swelling}}) : unknown("swelling"));
  if (check.growth.value_or(false)) add(say.label("growing"));
  add(!check.foot_pulse ? unknown("foot-pulse")
                        : say.label(*check.foot_pulse == FootPulse::as_baseline ? (baseline_known ? "pulse-as-before" : "pulse-as-unknown-before") : *check.foot_pulse == FootPulse::weaker ? "pulse-weaker" : "pulse-absent"));
  for (const auto& part : check.unread)
    if (part.what != "bleeding" && part.what != "swelling" && part.what != "foot-pulse") add(say.text("not-read", {{"what", say.term("finding", clinical::finding_term(part.what))}, {"said", part.said}}));
  const bool before = check.at && !rebleeds.empty() && check.at->latest < rebleeds.back();
  return check.at ? say.text(before ? "last-check-before" : "last-check", {{"at", clinical::when(*check.at)}, {"found", found}}) : say.text("last-check-untimed", {{"found", found}});
}

std::string state_of(const Say& say, const clinical::SitePlan& site) {
  const auto& check = site.last_check;
  const bool wet = site.t0 && check && check->at && check->at->latest > *site.t0 && check->bleeding && *check->bleeding != clinical::Bleeding::none;
  if (wet) return say.text("state.wet", {{"at", check->at->latest}});
  if (site.t0) return say.text("state.haemostasis", {{"at", *site.t0}});
  if (site.compression_started) return say.text("state.pressed", {{"at", *site.compression_started}});
  if (site.sheath_out) return say.text("state.out", {{"at", *site.sheath_out}});
  if (clinical::is_pressed_or_out(site)) return say.label("state.out-untimed");
  return say.label(say.in().plan.state == clinical::CaseState::waiting ? "state.unknown" : "state.in");
}

std::string watched_for(const Say& say, const clinical::SitePlan& site) {
  std::string why;
  for (const auto& reason : site.watched_for) why = say.listed(std::move(why), say.reason(reason));
  return why;
}

Plate plate_of(const Say& say, const clinical::SitePlan& site) {
  Plate plate;
  plate.side = site.side == clinical::Side::unknown ? say.side(site.side) : say.text("groin", {{"side", say.side(site.side)}});
  plate.size = say.size(site);
  plate.state = state_of(say, site);
  if (clinical::pressed_below(site)) plate.events.push_back(say.label("antegrade"));
  for (const Instant at : site.rebleeds) plate.events.push_back(say.text("rebled", {{"at", at}}));
  const char* group = clinical::is_pressed_or_out(site) ? "closure" : "closure-planned";
  plate.more.push_back(site.closure == clinical::Closure::unknown ? say.label("closure-unknown") : capital(say.term(group, name_of(site.closure))));
  plate.more.push_back(site.baseline_pulses.empty() ? say.label("pulses-unknown") : say.text("pulses-before", {{"pulses", site.baseline_pulses}}));
  plate.more.push_back(site.last_check ? last_check(say, *site.last_check, !site.baseline_pulses.empty(), site.rebleeds) : say.label("no-check"));
  if (const std::string why = watched_for(say, site); !why.empty()) plate.more.push_back(say.text("high-watch", {{"why", why}}));
  return plate;
}

// A permission that ends sooner than the plan's validity ends the sheet's.
std::optional<Instant> valid_until(const clinical::CasePlan& plan) {
  auto until = plan.valid_until;
  for (const auto& site : plan.sites)
    for (const auto& m : site.milestones)
      if (const auto end = pull_ends(site, m); end && (!until || *end < *until)) until = end;
  return until;
}

std::string zone_name(const words::Context& where) { return where.zone ? where.zone->name() : "UTC"; }

// Both codes stand beside their words: a scanner saves typing, a person can compare.
void add_codes(const Say& say, Foot& foot) {
  const auto& in = say.in();
  const auto add = [&](CodeKind kind, const std::string& text, std::string_view caption) {
    auto made = barcode_of(kind, text);
    if (auto* code = std::get_if<Barcode>(&made)) foot.codes.push_back({std::move(*code), say.label(caption)});
    else foot.code_faults.push_back(std::get<std::string>(made));
  };
  if (in.patient_code && !in.plan.patient.record_number.empty()) add(*in.patient_code, in.plan.patient.record_number, "code.patient");
  // Format 1: sheet number; plan; protocol and its version. Nothing of the patient.
  add(CodeKind::data_matrix, fmt::format("1;{};{};{} {}", in.number, in.plan_hash.substr(0, 12), in.protocol.id, in.protocol.version), "code.sheet");
}

std::string short_hash(const std::string& hash) { return hash.substr(0, 12); }

}  // namespace

std::optional<Instant> pull_ends(const clinical::SitePlan& site, const clinical::Milestone& step) {
  std::optional<Instant> end;
  if (step.step != clinical::Step::remove_sheath || step.status != clinical::StepStatus::due) return end;
  for (const auto& gate : site.gates)
    if (gate.expires_at && (!end || *gate.expires_at < *end)) end = gate.expires_at;
  return end;
}

Head head_of(const Say& say, const Fonts& fonts) {
  const auto& in = say.in();
  const auto& patient = in.plan.patient;
  Head head;
  const std::string number = patient.record_number.empty() ? say.label("record-unknown") : say.text("record", {{"number", patient.record_number}});
  head.name = patient.name.empty() ? say.label("name-unknown") : patient.name;
  if (const auto gaps = fonts.uncovered(patient.name); !gaps.empty()) {
    head.name = number;
    head.warning = say.text("name-not-printable", {{"letters", fmt::format("{}", fmt::join(gaps, ", "))}});
  }
  head.who.push_back(patient.birth_written.empty() ? say.label("birth-unknown") : say.text("born", {{"date", patient.birth_written}}));
  head.who.push_back(number);
  head.who.push_back(in.plan.place.empty() ? say.label("place-unknown") : in.plan.place);
  head.procedure = in.plan.title;
  if (in.plan.started) head.procedure = say.listed(head.procedure, say.text("started", {{"at", *in.plan.started}}));
  head.procedure = say.listed(head.procedure, in.plan.operator_name.empty() ? say.label("operator-unknown") : say.text("operator", {{"name", in.plan.operator_name}}));
  head.sheet = say.text("sheet", {{"number", std::int64_t{in.number}}});
  head.page = say.text("page", {{"n", std::string("#1")}, {"m", std::string("#2")}});
  if (!in.protocol.approved) head.flags.push_back(in.words.label("not-approved"));
  if (patient.test_data) head.flags.push_back(in.words.label("test-data"));
  if (in.rehearsal) head.flags.push_back(in.words.label("rehearsal"));
  if (in.plan.provisional) head.flags.push_back(say.label("provisional"));
  return head;
}

Foot foot_of(const Say& say) {
  const auto& in = say.in();
  Foot foot;
  foot.bleeding = in.words.text("caution.bleeding", {{"press", clinical::press_term(in.plan, {})}}, in.where);
  const auto until = valid_until(in.plan);
  foot.use_before = until ? say.text("use-before", {{"at", *until}}) : say.label("no-validity");
  const auto number = [&](const char* key) {
    const auto set = std::ranges::find_if(in.protocol.local, [&](const auto& one) { return one.first == key; });
    return set == in.protocol.local.end() || set->second.empty() ? say.label("number-unknown") : set->second;
  };
  foot.bleeding = joined(foot.bleeding, "  ", say.text("call-numbers", {{"call", number("call-number")}, {"emergency", number("emergency-number")}}));
  const std::string day = date_text(in.words, words::local_day(in.as_of, in.where.zone), true);
  std::string made = say.text("data-as-of", {{"day", day}, {"at", in.as_of}, {"zone", zone_name(in.where)}});
  made = joined(made, " ", in.printed_at ? say.text("printed-at", {{"at", *in.printed_at}}) : say.label("printed-blank"));
  if (in.supersedes) made = joined(made, " ", say.text("supersedes", {{"number", std::int64_t{in.supersedes->number}}, {"at", in.supersedes->at}}));
  foot.lines.push_back(std::move(made));
  foot.lines.push_back(say.text("versions", {{"protocol", in.protocol.id}, {"version", in.protocol.version}, {"hash", short_hash(in.protocol.sha256)},
                                             {"plan", short_hash(in.plan_hash)}, {"installation", in.installation}}));
  if (const std::string translated = say.label("translation"); !translated.empty()) foot.lines.push_back(translated);
  add_codes(say, foot);
  foot.honest = joined(in.words.text("caution.supports"), " ", in.words.text("caution.look"));
  return foot;
}

std::vector<Plate> plates_of(const Say& say) {
  std::vector<Plate> plates;
  for (const auto& site : say.in().plan.sites) plates.push_back(plate_of(say, site));
  return plates;
}

Figure figure_of(const Say& say) {
  const auto word = [&](clinical::Side side) { return say.label("short-side." + std::string(name_of(side))); };
  Figure figure{word(clinical::Side::right), word(clinical::Side::left), say.label("foot-pulse-here"), say.label("figure"), {}};
  for (const auto& site : say.in().plan.sites) {
    const std::string size = joined(say.text("size", {{"french", site.french ? clinical::Argument{std::int64_t{*site.french}} : clinical::Argument{std::string("?")}}}), " ", say.label("short-vessel." + std::string(name_of(site.vessel))));
    figure.spots.push_back({site.side, site.vessel, site.side == clinical::Side::unknown ? std::string{} : size});  // a question mark says it there
  }
  return figure;
}

}  // namespace sheet
