#include <fmt/format.h>

#include <algorithm>

#include "clinical/change.h"
#include "clinical/names.h"
#include "clinical/phrases.h"
#include "clinical/quantity.h"
#include "sheet/lines_parts.h"

namespace sheet {
namespace {

using clinical::hours;
using clinical::Milestone;
using clinical::minutes;
using clinical::Step;
using clinical::StepStatus;

constexpr minutes kMargin{20};
constexpr hours kLongest{30};

bool in_picture(Step step) {
  switch (step) {
    case Step::draw_coagulation: case Step::remove_sheath: case Step::end_compression: case Step::raise_head: case Step::sit_up: case Step::stand_and_walk:
    case Step::discharge_check: return true;
    default: return false;
  }
}

void add_point(const Say& say, Timeline::Lane& lane, const Milestone& m) {
  // What is still to come is not named as if it had happened.
  const bool planned = (m.step == Step::end_compression || m.step == Step::remove_sheath) && m.status != StepStatus::done;
  const std::string label = say.label("short." + std::string(name_of(m.step)) + (planned ? "-planned" : ""));
  const auto add = [&](Instant at, Mark mark, words::Format format) { lane.points.push_back({at, say.time(at, format), label, mark}); };
  if (m.status == StepStatus::cancelled) return;
  if (m.status == StepStatus::done) {
    if (m.actual) add(*m.actual, Mark::done, words::Format::plain);
  } else if (m.earliest) {
    add(*m.earliest, m.status == StepStatus::due ? Mark::due : Mark::expected, words::Format::up);
  } else if (m.expected) {
    return;  // a guess is the band, never a point with a time
  } else if (m.after_t0) {
    lane.later.push_back({*m.after_t0, "+ " + say.length(*m.after_t0), label});
  }
}

void add_band(const Say& say, Timeline::Lane& lane, const clinical::SitePlan& site) {
  if (clinical::is_pressed_or_out(site) || !site.projection || !site.projection->computed || !site.projection->p10 || !site.projection->p90) return;
  const auto act = std::ranges::find(site.gates, clinical::GateName::act, &clinical::Gate::name);
  if (act != site.gates.end() && act->state == clinical::GateState::open) return;  // it has happened
  const auto limit = clinical::as_value(say.in().protocol.act_limit);
  lane.band = Timeline::Band{*site.projection->p10, *site.projection->p90, site.projection->p50, say.text("band", {{"limit", limit}})};
}

Timeline::Lane lane_of(const Say& say, const clinical::SitePlan& site, bool last) {
  Timeline::Lane lane;
  lane.name = say.which(site);
  for (const auto& m : site.milestones) {
    if (m.step == Step::check_site && m.earliest && m.status != StepStatus::cancelled) lane.checks.emplace_back(*m.earliest, m.status == StepStatus::done);
    if (in_picture(m.step) && !clinical::waits_for_emergency(say.in().plan, m) && (last || !clinical::is_patient_step(m.step))) add_point(say, lane, m);
  }
  if (site.compression_started && !site.t0 && site.compression_started != site.sheath_out)
    lane.points.push_back({*site.compression_started, say.time(*site.compression_started), say.label("short-pressed"), Mark::done});
  add_band(say, lane, site);
  std::ranges::stable_sort(lane.points, {}, &Timeline::Point::at);
  return lane;
}

void widen(Timeline& picture, Instant at) {
  picture.from = std::min(picture.from, at);
  picture.to = std::max(picture.to, at);
}

// Round clock times in the printed zone, at most about twelve of them.
void add_ticks(const Say& say, Timeline& picture) {
  minutes step{30};
  for (const minutes wider : {minutes{60}, minutes{120}, minutes{180}})
    if ((picture.to - picture.from) / step > 12) step = wider;
  const auto* zone = say.in().where.zone;
  const auto offset = zone ? zone->get_info(picture.from).offset : clinical::seconds{0};
  const auto into_step = std::chrono::floor<minutes>(picture.from + offset).time_since_epoch() % step;
  for (Instant at = std::chrono::floor<minutes>(picture.from) + (step - into_step) % step; at <= picture.to; at += step) picture.ticks.emplace_back(at, say.time(at));
}

}  // namespace

std::optional<Timeline> timeline_of(const Say& say) {
  const auto& in = say.in();
  Timeline picture;
  picture.from = picture.to = picture.now = in.as_of;
  for (const auto& site : in.plan.sites) picture.lanes.push_back(lane_of(say, site, &site == &in.plan.sites.back()));
  for (const auto& lane : picture.lanes) {
    for (const auto& point : lane.points)
      if (point.at > in.as_of - kLongest && point.at < in.as_of + kLongest) widen(picture, point.at);
    if (lane.band) widen(picture, std::min(lane.band->to, in.as_of + kLongest));
  }
  picture.from = std::chrono::floor<minutes>(picture.from) - kMargin;
  picture.to = std::max(std::chrono::ceil<minutes>(picture.to), std::chrono::ceil<minutes>(picture.from) + hours{2}) + kMargin;
  for (auto& lane : picture.lanes) {
    std::erase_if(lane.points, [&](const auto& p) { return p.at < picture.from || p.at > picture.to; });
    std::erase_if(lane.checks, [&](const auto& c) { return c.first < picture.from || c.first > picture.to; });
  }
  add_ticks(say, picture);
  picture.now_label = say.text("now-at-print", {{"at", in.as_of}});
  picture.later_label = say.label("clock-not-started");
  for (const auto& [mark, key] : {std::pair{Mark::done, "mark.done"}, {Mark::due, "mark.due"}, {Mark::expected, "mark.expected"}, {Mark::blocked, "mark.blocked"}})
    picture.marks.emplace_back(mark, say.label(key));
  picture.key = say.label("timeline-key");
  if (clinical::open_emergency(in.plan)) picture.key = joined(say.label("after-emergency"), ". ", picture.key);
  return picture;
}

}  // namespace sheet
