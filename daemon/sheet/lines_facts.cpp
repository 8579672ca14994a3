#include <fmt/format.h>

#include <algorithm>

#include "clinical/names.h"
#include "clinical/phrases.h"
#include "clinical/quantity.h"
#include "sheet/lines_parts.h"

namespace sheet {
namespace {

using clinical::Step;

constexpr int kBlankTests = 3;

std::string moment(const Say& say, const std::optional<clinical::Moment>& at) {
  if (!at) return say.label("time-unknown");
  return say.in().words.moment(*at, say.in().where);
}

std::string dose_text(const Say& say, const clinical::Administration& a) {
  std::string text;
  if (a.dose) text = say.value(a.dose->amount, a.dose->per_kg ? "/kg" : "");
  if (a.rate) text = say.listed(text, say.value(a.rate->amount, a.rate->per_kg ? "/kg/h" : "/h"));
  return text.empty() ? say.label("dose-unknown") : text;
}

std::string status_text(const Say& say, const clinical::Administration& a) {
  std::string text;
  if (a.flush) text = say.label("flush");
  using clinical::AdministrationStatus;
  if (!a.bolus && !a.end && a.status != AdministrationStatus::completed && a.status != AdministrationStatus::stopped) return say.listed(text, say.label("running"));
  if (!a.bolus && a.end) return say.listed(text, say.text("stopped", {{"at", moment(say, a.end)}}));
  return text;
}

Row dose_row(const Say& say, const clinical::Administration& a) {
  std::string name = a.name.empty() ? say.term("agent", name_of(a.agent)) : a.name;
  return {{{moment(say, a.start), "", Mark::none, true}, {std::move(name), status_text(say, a), Mark::none}, {dose_text(say, a), "", Mark::none}}};
}

Row agent_row(const Say& say, const clinical::AgentRow& a) {
  std::string when = a.running ? say.label("running") : a.last_given ? say.text("last-given", {{"at", *a.last_given}}) : say.label("time-unknown");
  std::string total;
  if (a.total) total = say.text("in-all", {{"amount", say.value(*a.total)}});
  if (a.total_per_kg) total = say.listed(total, say.value(*a.total_per_kg));
  std::string note = a.half_life ? say.text("half-life", {{"length", clinical::seconds{*a.half_life}}}) : std::string{};
  return {{{std::move(when), "", Mark::none, true}, {capital(say.term("agent", name_of(a.agent))), std::move(note), Mark::none, true}, {std::move(total), "", Mark::none}}};
}

Row value_row(const Say& say, const clinical::Measurement& m) {
  using clinical::Analyte;
  const bool by_device = m.analyte == Analyte::act || m.analyte == Analyte::aptt || m.analyte == Analyte::anti_xa;
  std::string note;
  if (by_device) note = m.analyser.empty() ? say.label("analyser-unknown") : m.analyser;
  if (m.preliminary) note = say.listed(note, say.label("preliminary"));
  return {{{capital(say.term("analyte", name_of(m.analyte))), std::move(note), Mark::none},
           {m.value ? say.value(*m.value) : say.label("absent"), "", Mark::none, true},
           {moment(say, m.at), "", Mark::none}}};
}

std::vector<std::string> arithmetic(const Say& say, const clinical::Milestone& m) {
  std::vector<std::string> lines;
  for (const auto& basis : m.basis) lines.push_back(say.reason(basis.arithmetic));
  return lines;
}

// Factors that nobody recorded are not counted, and not absent either.
std::vector<std::string> not_recorded(const Say& say, const clinical::SitePlan& site) {
  std::vector<std::string> names;
  for (const char* name : {"puncture", "restless", "steroids", "vessel-wall"}) {
    const std::string wanted = std::string("@add.") + name;
    const bool counted = std::ranges::any_of(site.milestones, [&](const clinical::Milestone& m) {
      return std::ranges::any_of(m.basis, [&](const clinical::Basis& b) {
        return std::ranges::any_of(b.arithmetic.arguments, [&](const auto& a) { return std::holds_alternative<std::string>(a.second) && std::get<std::string>(a.second) == wanted; });
      });
    });
    if (!counted) names.push_back(say.label(std::string("assess.") + name));
  }
  return names;
}

}  // namespace

void add_drugs(const Say& say, std::vector<Section>& sections) {
  const auto& plan = say.in().plan;
  Section section{say.label("drugs"), "", {}, Table{{{say.label("column.when"), 1.3}, {say.label("column.drug"), 2.0}, {say.label("column.dose"), 1.5}}, {}}, {}};
  for (const auto& a : plan.agents) section.table->rows.push_back(agent_row(say, a));
  for (const auto& a : plan.shown_doses) section.table->rows.push_back(dose_row(say, a));
  if (section.table->rows.empty()) {
    section.table.reset();
    section.before.push_back(say.label("no-dose"));
  }
  sections.push_back(std::move(section));
}

void add_values(const Say& say, std::vector<Section>& sections) {
  const auto& plan = say.in().plan;
  Section section{say.label("values"), "", {}, Table{{{say.label("column.test"), 1.8}, {say.label("column.value"), 1.2}, {say.label("column.drawn"), 1.2}}, {}}, {}};
  for (const auto& m : plan.shown_values) section.table->rows.push_back(value_row(say, m));
  if (plan.clearance)
    section.table->rows.push_back({{{say.label("clearance"), "", Mark::none}, {say.in().words.apart(fmt::format("{:.1f} mL/min", plan.clearance->millilitres_per_minute)), "", Mark::none, true}, {"", "", Mark::none}}});
  for (int i = 0; i < kBlankTests; ++i)
    section.table->rows.push_back({{{say.label("next-test"), "", Mark::none}, {"", "", Mark::none, false, true}, {"", "", Mark::none, false, true}}});
  sections.push_back(std::move(section));
}

void add_reasons(const Say& say, std::vector<Section>& sections) {
  for (const auto& site : say.in().plan.sites) {
    Section section{say.title("why-long", site), "", {}, {}, {}};
    for (const auto& [step, key] : {std::pair{Step::end_compression, "why-hold"}, {Step::stand_and_walk, "why-rest"}}) {
      const auto* m = find_step(site, step);
      if (!m || m->basis.empty() || clinical::waits_for_emergency(say.in().plan, *m)) continue;
      std::string sum;
      for (const auto& line : arithmetic(say, *m)) sum = joined(std::move(sum), "; ", line);
      section.before.push_back(say.text(key, {{"sum", sum}}));
    }
    if (section.before.empty()) continue;  // no length is given: nothing was counted, recorded or not
    std::string assess;
    for (const auto& name : not_recorded(say, site)) assess = say.listed(std::move(assess), name);
    if (!assess.empty()) section.before.push_back(say.text("assess", {{"what", assess}}));
    sections.push_back(std::move(section));
  }
}

}  // namespace sheet
