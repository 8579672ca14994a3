// The course of one puncture from its events: holds, haemostasis, rebleeds. T0 is the latest of haemostasis confirmed, compression ended and device off; any start of
// pressing after it is a rebleed (clinical model, "T0, rest, sitting, walking").
#include <algorithm>

#include "clinical/site_course.h"
#include "mutants_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

struct Happened {
  AccessEventKind kind;
  int minute;   ///< after 15:00
  Closure method = Closure::unknown;
  std::optional<double> pressure = {};
};
using Events = std::vector<Happened>;

SiteFacts course_of(Closure closure, const Events& events, const std::vector<int>& growths = {}) {
  SiteFacts site;
  site.key = "Procedure/p1";
  if (closure != Closure::unknown) site.closure = {Certainty::known, closure, {}};
  int number = 0;
  for (const auto& e : events) {
    AccessEvent event;
    event.source = {"Test/" + std::to_string(++number), "1", false};
    event.kind = e.kind;
    event.at = exactly(hm(15, e.minute));
    event.method = e.method;
    if (e.pressure) event.pressure = amount(*e.pressure, "mm[Hg]");
    site.events.push_back(event);
  }
  for (const int minute : growths) site.growths.push_back({hm(15, minute), {"Test/growth", "1", false}});
  replay_course(site);
  return site;
}

/// "out 15:00 | 15:00-15:20 manual | t0 15:20": holds with "~" are implied, with "!" after a rebleed; "<" with an earlier first start.
std::string told(const SiteFacts& site) {
  std::string text = site.sheath_known_in ? "in" : site.sheath_out ? "out " + say(*site.sheath_out) : site.out_untimed ? "out" : "?";
  for (const auto& h : site.holds)
    text += " | " + say(h.start) + "-" + (h.end ? say(*h.end) : "") + (h.method == Closure::unknown ? "" : " " + std::string(name_of(h.method))) + (h.implied ? " ~" : "") + (h.after_rebleed ? " !" : "") +
            (h.first_start != h.start ? " <" + say(h.first_start) : "");
  const auto list = [&](const char* name, const std::vector<Instant>& all) {
    if (!all.empty()) text += std::string(" | ") + name;
    for (const auto at : all) text += " " + say(at);
  };
  if (site.t0) text += " | t0 " + say(*site.t0);
  if (site.t0_history.size() > 1 || (!site.t0 && !site.t0_history.empty())) list("t0s", site.t0_history);
  list("rebleeds", site.rebleeds);
  list("outgrown", site.t0_outgrown);
  if (site.device_failed) text += " | failed";
  if (site.haemostasis_unconfirmed) text += " | unconfirmed";
  if (site.dry_before_out) text += " | dry before out " + say(*site.dry_before_out);
  return text;
}

struct Row {
  const char* name;
  Events events;
  const char* says;
  Closure closure = Closure::manual;
  std::vector<int> growths = {};
};
const auto by_hand = Closure::manual, clamp = Closure::mechanical, device = Closure::device, unknown = Closure::unknown;

void expect_courses(const std::vector<Row>& rows) {
  for (const auto& row : rows) EXPECT_EQ(told(course_of(row.closure, row.events, row.growths)), row.says) << row.name;
}

TEST(CourseSays, HoldsAndHaemostasis) {
  expect_courses({
      {"nothing", {}, "?"},
      {"in", {{sheath_inserted, 0}}, "in"},
      {"as planned", {{sheath_removed, 0}, {compression_started, 0}, {haemostasis_confirmed, 20}}, "out 15:00 | 15:00-15:20 | t0 15:20"},
      {"out alone: somebody presses", {{sheath_removed, 0}}, "out 15:00 | 15:00- ~"},
      {"pressed later than out", {{sheath_removed, 0}, {compression_started, 5}}, "out 15:00 | 15:05-"},
      {"pressed before it is out", {{compression_started, 0}, {sheath_removed, 5}}, "out 15:05 | 15:00-"},
      {"ended alone", {{sheath_removed, 0}, {compression_started, 0}, {compression_ended, 15}}, "out 15:00 | 15:00-15:15 | unconfirmed"},
      {"ended, then confirmed", {{sheath_removed, 0}, {compression_started, 0}, {compression_ended, 15}, {haemostasis_confirmed, 18}}, "out 15:00 | 15:00-15:15 | t0 15:18"},
      {"confirmed, then ended: the later", {{sheath_removed, 0}, {compression_started, 0}, {haemostasis_confirmed, 18}, {compression_ended, 20}}, "out 15:00 | 15:00-15:18 | t0 15:20"},
      {"ended and confirmed at one instant", {{sheath_removed, 0}, {compression_started, 0}, {haemostasis_confirmed, 18}, {compression_ended, 18}}, "out 15:00 | 15:00-15:18 | t0 15:18"},
      {"confirmed twice", {{sheath_removed, 0}, {compression_started, 0}, {haemostasis_confirmed, 18}, {haemostasis_confirmed, 25}}, "out 15:00 | 15:00-15:18 | t0 15:25"},
      {"confirmed again for an earlier end", {{sheath_removed, 0}, {compression_started, 0}, {compression_ended, 18}, {haemostasis_confirmed, 18}}, "out 15:00 | 15:00-15:18 | t0 15:18"},
      {"out and dry, nobody recorded pressing", {{sheath_removed, 0}, {haemostasis_confirmed, 20}}, "out 15:00 | 15:00-15:20 ~ | t0 15:20"},
      {"started again while it is pressed", {{sheath_removed, 0}, {compression_started, 0}, {compression_started, 10}}, "out 15:00 | 15:10- <15:00"},
      {"by hand after nobody said how", {{sheath_removed, 0}, {compression_started, 0}, {compression_started, 10, by_hand}}, "out 15:00 | 15:10- manual <15:00"},
      {"nobody said how after by hand", {{sheath_removed, 0}, {compression_started, 0, by_hand}, {compression_started, 10}}, "out 15:00 | 15:10- manual <15:00"},
      {"the order of receipt", {{haemostasis_confirmed, 20}, {compression_started, 0}, {sheath_removed, 0}}, "out 15:00 | 15:00-15:20 | t0 15:20"},
      {"in again", {{sheath_removed, 0}, {compression_started, 0}, {haemostasis_confirmed, 20}, {sheath_inserted, 30}}, "in | t0s 15:20"},
      {"in again while pressed", {{sheath_removed, 0}, {compression_started, 0}, {sheath_inserted, 10}}, "in"},
      {"in again after it ended alone", {{sheath_removed, 0}, {compression_started, 0}, {compression_ended, 10}, {sheath_inserted, 12}, {sheath_removed, 20}}, "out 15:20 | 15:20- ~"},
      {"pressed before the sheath went in: it stays", {{compression_started, 0}, {sheath_inserted, 5}}, "in"},
      {"dry before it was out", {{haemostasis_confirmed, 10}, {sheath_removed, 20}}, "out 15:20 | 15:20- ~ | dry before out 15:10"},
      {"dry as it came out", {{haemostasis_confirmed, 20}, {sheath_removed, 20}}, "out 15:20 | 15:20-15:20 ~ | t0 15:20"},
      {"dry before it was out, and after", {{haemostasis_confirmed, 10}, {sheath_removed, 20}, {compression_started, 20}, {haemostasis_confirmed, 45}}, "out 15:20 | 15:20-15:45 | t0 15:45 | dry before out 15:10"},
      {"dry, in again, and out", {{haemostasis_confirmed, 10}, {sheath_inserted, 12}, {sheath_removed, 20}}, "out 15:20 | 15:20- ~ | t0s 15:10"},
      {"dry with the second sheath in: only that T0 is none", {{sheath_removed, 0}, {compression_started, 0}, {haemostasis_confirmed, 20}, {sheath_inserted, 30}, {haemostasis_confirmed, 40}, {sheath_removed, 50}},
       "out 15:50 | 15:50- ~ | t0s 15:20 | dry before out 15:40"},
      {"dry and pressed before it was out: no rebleed", {{haemostasis_confirmed, 10}, {compression_started, 15}, {sheath_removed, 20}}, "out 15:20 | 15:15- ! | rebleeds 15:15 | dry before out 15:10"},
  });
}

TEST(CourseSays, ClampsAndDevices) {
  expect_courses({
      {"dry under a clamp is no T0 yet", {{sheath_removed, 0}, {compression_started, 0}, {haemostasis_confirmed, 30}}, "out 15:00 | 15:00-", clamp},
      {"the clamp comes off", {{sheath_removed, 0}, {compression_started, 0}, {haemostasis_confirmed, 30}, {compression_ended, 40}}, "out 15:00 | 15:00-15:40 | t0 15:40", clamp},
      {"off, then dry", {{sheath_removed, 0}, {compression_started, 0}, {compression_ended, 25}, {haemostasis_confirmed, 30}}, "out 15:00 | 15:00-15:25 | t0 15:30", clamp},
      {"pressed again before it is off: dry no longer", {{sheath_removed, 0}, {compression_started, 0}, {haemostasis_confirmed, 30}, {compression_started, 35}, {compression_ended, 40}}, "out 15:00 | 15:35-15:40 <15:00 | unconfirmed", clamp},
      {"by hand where a clamp was meant", {{sheath_removed, 0}, {compression_started, 0, by_hand}, {haemostasis_confirmed, 20}}, "out 15:00 | 15:00-15:20 manual | t0 15:20", clamp},
      {"a clamp where a hand was meant", {{sheath_removed, 0}, {compression_started, 0, clamp}, {haemostasis_confirmed, 20}}, "out 15:00 | 15:00- mechanical", by_hand},
      {"nobody knows how: it may be a clamp", {{sheath_removed, 0}, {compression_started, 0}, {haemostasis_confirmed, 20}}, "out 15:00 | 15:00-", unknown},
      {"out and dry, nobody recorded pressing, a clamp was meant", {{sheath_removed, 0}, {haemostasis_confirmed, 20}}, "out 15:00 | 15:00-15:20 ~ | t0 15:20", clamp},
      {"from a clamp to a hand", {{sheath_removed, 0}, {compression_started, 0, clamp}, {compression_started, 20, by_hand}, {haemostasis_confirmed, 45}}, "out 15:00 | 15:00-15:20 mechanical | 15:20-15:45 manual | t0 15:45", clamp},
      {"a pressure tells that it is a clamp", {{sheath_removed, 0}, {compression_started, 0}, {pressure_changed, 5, unknown, 60}}, "out 15:00 | 15:00- mechanical", by_hand},
      {"a pressure starts one", {{sheath_removed, 0}, {pressure_changed, 5, unknown, 60}}, "out 15:00 | 15:05- mechanical", clamp},
      {"a pressure that is not recorded starts one", {{sheath_removed, 0}, {pressure_changed, 5}}, "out 15:00 | 15:05- mechanical", clamp},
      {"a pressure of nothing starts none", {{sheath_removed, 0}, {compression_started, 0}, {compression_ended, 30}, {haemostasis_confirmed, 30}, {pressure_changed, 31, unknown, 0}}, "out 15:00 | 15:00-15:30 | t0 15:30", clamp},
      {"a pressure by hand stays by hand", {{sheath_removed, 0}, {compression_started, 0, by_hand}, {pressure_changed, 5, unknown, 60}}, "out 15:00 | 15:00- manual", by_hand},
      {"a device closes it", {{sheath_removed, 0}, {haemostasis_confirmed, 5}}, "out 15:00 | 15:00-15:05 ~ | t0 15:05", device},
      {"a device fails", {{sheath_removed, 0}, {closure_failed, 3}}, "out 15:00 | 15:00-15:03 ~ | 15:03- ~ | failed", device},
      {"a device fails and is pressed", {{sheath_removed, 0}, {closure_failed, 3}, {compression_started, 4, by_hand}, {haemostasis_confirmed, 30}}, "out 15:00 | 15:00-15:03 ~ | 15:04-15:30 manual | t0 15:30 | failed", device},
      {"a device fails after T0", {{sheath_removed, 0}, {haemostasis_confirmed, 5}, {closure_failed, 10}}, "out 15:00 | 15:00-15:05 ~ | 15:10- ~ ! | t0s 15:05 | rebleeds 15:10 | failed", device},
      {"and is pressed: that rebleed", {{sheath_removed, 0}, {haemostasis_confirmed, 5}, {closure_failed, 10}, {compression_started, 12}}, "out 15:00 | 15:00-15:05 ~ | 15:12- ! | t0s 15:05 | rebleeds 15:10 | failed", device},
      {"a hand on top of a device", {{sheath_removed, 0}, {compression_started, 0, by_hand}}, "out 15:00 | 15:00- manual | failed", device},
      {"a clamp on top of a device", {{sheath_removed, 0}, {compression_started, 0, clamp}}, "out 15:00 | 15:00- mechanical | failed", device},
      {"the device itself is pressed on", {{sheath_removed, 0}, {compression_started, 0}}, "out 15:00 | 15:00-", device},
      {"a clamp that is on when a failure is written down stays on", {{sheath_removed, 0}, {compression_started, 0, clamp}, {closure_failed, 10}}, "out 15:00 | 15:00-15:10 mechanical | 15:10- mechanical | failed", clamp},
      {"a hand then presses on", {{sheath_removed, 0}, {compression_started, 0, by_hand}, {closure_failed, 10}}, "out 15:00 | 15:00-15:10 manual | 15:10- ~ | failed", by_hand},
  });
}

TEST(CourseSays, Rebleeds) {
  const Events dry{{sheath_removed, 0}, {compression_started, 0}, {haemostasis_confirmed, 20}};
  const auto then = [&](Events more) {
    Events events = dry;
    events.insert(events.end(), more.begin(), more.end());
    return events;
  };
  expect_courses({
      {"pressed again", then({{compression_started, 60}}), "out 15:00 | 15:00-15:20 | 16:00- ! | t0s 15:20 | rebleeds 16:00"},
      {"and dry again", then({{compression_started, 60}, {haemostasis_confirmed, 90}}), "out 15:00 | 15:00-15:20 | 16:00-16:30 ! | t0 16:30 | t0s 15:20 16:30 | rebleeds 16:00"},
      {"coded", then({{rebleed, 60}}), "out 15:00 | 15:00-15:20 | 16:00- ~ ! | t0s 15:20 | rebleeds 16:00"},
      {"coded, then pressed: one", then({{rebleed, 60}, {compression_started, 62}}), "out 15:00 | 15:00-15:20 | 16:02- ! | t0s 15:20 | rebleeds 16:00"},
      {"pressed, then coded: one", then({{compression_started, 60}, {rebleed, 62}}), "out 15:00 | 15:00-15:20 | 16:00- ! | t0s 15:20 | rebleeds 16:00"},
      {"coded twice before it is dry: one", then({{rebleed, 60}, {rebleed, 62}}), "out 15:00 | 15:00-15:20 | 16:00- ~ ! | t0s 15:20 | rebleeds 16:00"},
      {"twice", then({{compression_started, 60}, {haemostasis_confirmed, 90}, {compression_started, 100}}), "out 15:00 | 15:00-15:20 | 16:00-16:30 ! | 16:40- ! | t0s 15:20 16:30 | rebleeds 16:00 16:40"},
      {"coded while it is pressed: the hold begins again", {{sheath_removed, 0}, {compression_started, 0}, {rebleed, 10}}, "out 15:00 | 15:10- ! <15:00 | rebleeds 15:10"},
      {"dry under a clamp, then coded: dry no longer", {{sheath_removed, 0}, {compression_started, 0}, {haemostasis_confirmed, 30}, {rebleed, 35}, {compression_ended, 40}}, "out 15:00 | 15:35-15:40 ! <15:00 | rebleeds 15:35 | unconfirmed", clamp},
      {"after a device: by hand from then on", {{sheath_removed, 0}, {haemostasis_confirmed, 5}, {rebleed, 60}}, "out 15:00 | 15:00-15:05 ~ | 16:00- ~ ! | t0s 15:05 | rebleeds 16:00 | failed", device},
      {"dry and pressed at one instant: pressed after it", then({{compression_started, 20}}), "out 15:00 | 15:00-15:20 | 15:20- ! | t0s 15:20 | rebleeds 15:20"},
  });
}

TEST(CourseSays, GrowingSwellings) {
  const Events dry{{sheath_removed, 0}, {compression_started, 0}, {haemostasis_confirmed, 20}};
  Events again = dry, pressed = dry;
  again.push_back({haemostasis_confirmed, 60});
  pressed.push_back({compression_started, 45});
  expect_courses({
      {"voids the T0 that stands", dry, "out 15:00 | 15:00-15:20 | 15:40- ~ | t0s 15:20 | outgrown 15:20", by_hand, {40}},
      {"at its instant as well", dry, "out 15:00 | 15:00-15:20 | 15:20- ~ | t0s 15:20 | outgrown 15:20", by_hand, {20}},
      {"before it does not", dry, "out 15:00 | 15:00-15:20 | t0 15:20", by_hand, {19}},
      {"dry again", again, "out 15:00 | 15:00-15:20 | 15:40-16:00 ~ | t0 16:00 | t0s 15:20 16:00 | outgrown 15:20", by_hand, {40}},
      {"pressed: a rebleed", pressed, "out 15:00 | 15:00-15:20 | 15:45- ! | t0s 15:20 | rebleeds 15:45 | outgrown 15:20", by_hand, {40}},
      {"after a device: by hand from then on", {{sheath_removed, 0}, {haemostasis_confirmed, 5}}, "out 15:00 | 15:00-15:05 ~ | 15:40- ~ | t0s 15:05 | outgrown 15:05 | failed", device, {40}},
      {"twice, each T0 once", again, "out 15:00 | 15:00-15:20 | 15:40-16:00 ~ | 16:10- ~ | t0s 15:20 16:00 | outgrown 15:20 16:00", by_hand, {40, 50, 70}},
  });
  const auto site = course_of(by_hand, again, {19, 40, 50, 70});
  std::string voided;
  for (const auto& g : site.growths) voided += g.voided ? "+" : "-";
  EXPECT_EQ(voided, "-+-+") << "only those that met a T0";
}

TEST(CourseSays, RemovalsWithoutATimeAndTasksClosedLate) {
  auto site = course_of(by_hand, {{sheath_inserted, 0}, {sheath_removed, 10}});
  site.events[1].at.reset();
  replay_course(site);
  EXPECT_EQ(told(site), "out");
  EXPECT_TRUE(site.out());
  site.events[1].at = Moment{hm(15, 10), hm(15, 20)};
  replay_course(site);
  EXPECT_EQ(told(site), "out") << "not to the second";
  // The Task of the removal closed at 15:30 says nothing new beside the removal of 15:10; without that it does.
  auto late = course_of(by_hand, {{sheath_removed, 10}, {compression_started, 10}, {haemostasis_confirmed, 30}, {sheath_removed, 40}, {compression_started, 40}});
  const std::string twice = told(late);
  EXPECT_EQ(twice, "out 15:40 | 15:10-15:30 | 15:40- ! | t0s 15:30 | rebleeds 15:40");
  for (const std::size_t i : {3u, 4u}) late.events[i].from_task = late.events[i].recording_time_only = true;
  replay_course(late);
  EXPECT_EQ(told(late), "out 15:10 | 15:10-15:30 | t0 15:30");
  late.events[3].from_task = late.events[4].from_task = false;
  replay_course(late);
  EXPECT_EQ(told(late), twice) << "no Task";
  for (const std::size_t i : {3u, 4u}) late.events[i].from_task = true, late.events[i].recording_time_only = false;
  replay_course(late);
  EXPECT_EQ(told(late), twice) << "its time is told";
  for (const std::size_t i : {3u, 4u}) late.events[i].recording_time_only = true;
  late.events[0].at = exactly(hm(15, 41));
  replay_course(late);
  EXPECT_EQ(told(late).substr(0, 9), "out 15:41") << "recorded later than the Task";
}

}  // namespace
}  // namespace clinical
