// What each alert says in full: its level, the groin, since when, the words with their values, the facts. Levels and limits: clinical-aftercare section F as the
// clinical model and the protocol state them (sources there); which value opens, keeps and ends an episode: clinical model, "Watching".
#include <algorithm>

#include "mutants_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

// Sources: 2 and 3 statements and platelets 220 ... 5 haemoglobin 14, 6 creatinine, 7 weight 80, 8 height 178; 9 heparin 12:05; 10 and 11 pressure 128/75, 12 heart
// rate 70, 13 check, 14 ACT 140, all 15:07; 15 sheath out and 16 pressed 15:12; 17 dry 15:32 = 15:12 + 20 min. What a row adds: 18, 19, ...
Chart pressed_at_1512() {
  Chart chart = intervention_chart(6);
  pull_at(chart, hm(15, 12));
  return chart;
}
Chart dry_at_1532() {
  Chart chart = pressed_at_1512();
  chart.event(haemostasis_confirmed, hm(15, 32));
  return chart;
}

struct AlertSaid {
  const char* name;
  std::function<void(Chart&)> change;
  const char* trigger;
  const char* says;   ///< "none": not raised
};
void expect_said(const Chart& base, Instant now, const std::vector<AlertSaid>& rows) {
  for (const auto& row : rows) {
    SCOPED_TRACE(row.name);
    Chart chart = base;
    row.change(chart);
    const auto plan = chart.plan(now);
    const auto* alert = find_alert(plan, row.trigger);
    EXPECT_EQ(alert ? say(*alert) : "none", row.says);
  }
}

using Change = std::function<void(SiteCheck&)>;
auto seen(Change change) {
  return [change](Chart& c) { change(c.check(hm(15, 58))); };
}
/// Checks of 15:50, 15:54 and 15:58.
auto three(Change a, Change b, Change c) {
  return [=](Chart& chart) {
    a(chart.check(hm(15, 50)));
    b(chart.check(hm(15, 54)));
    c(chart.check(hm(15, 58)));
  };
}
auto lab(Analyte analyte, double value, Instant at = hm(15, 58)) {
  return [=](Chart& c) { c.lab(analyte, value, at); };
}
template <class... Changes>
auto all(Changes... changes) {
  return [=](Chart& c) { (changes(c), ...); };
}
void good(SiteCheck&) {}
void bleeds(SiteCheck& c) { c.bleeding = Bleeding::bleeding; }
void oozes(SiteCheck& c) { c.bleeding = Bleeding::ooze; }

TEST(AlertSays, OfAGroin) {
  const auto growing = [](SiteCheck& c) { c.swelling.reset(); c.growth = true; };
  const auto size = [](double cm) { return Change([cm](SiteCheck& c) { c.swelling = amount(cm, "cm"); }); };
  const auto pulse = [](FootPulse p) { return Change([p](SiteCheck& c) { c.foot_pulse = p; }); };
  const auto member = [](std::optional<FootPulse> SiteCheck::*m, FootPulse p) { return Change([m, p](SiteCheck& c) { c.*m = p; }); };
  const auto flag = [](std::optional<bool> SiteCheck::*m, bool yes) { return Change([m, yes](SiteCheck& c) { c.*m = yes; }); };
  expect_said(dry_at_1532(), hm(16, 1), {
      {"blood", seen(bleeds), "site-bleeding", "emergency Procedure/p1 since 15:58 | alert.site-bleeding{at=15:58 size=0 cm} | from 18"},
      {"blood at the start of the case counts", [](Chart& c) { bleeds(c.check(hm(12))); }, "site-bleeding", "emergency Procedure/p1 since 12:00 | alert.site-bleeding{at=12:00 size=0 cm} | from 18"},
      {"blood from before it does not", [](Chart& c) { bleeds(c.check(hm(11, 59, 59))); }, "site-bleeding", "none"},
      {"blood, one dry, blood", three(bleeds, good, bleeds), "site-bleeding", "emergency Procedure/p1 since 15:50 | alert.site-bleeding{at=15:58 size=0 cm} | from 18 20"},
      {"two dry end it", three(bleeds, good, good), "site-bleeding", "none"},
      {"a dressing that is wet again is no second dry one", three(bleeds, good, [](SiteCheck& c) { c.wet_dressing = true; }), "site-bleeding", "emergency Procedure/p1 since 15:50 | alert.site-bleeding{at=15:50 size=0 cm} | from 18"},
      {"ooze is normal here", three(bleeds, oozes, oozes), "site-bleeding", "none"},
      {"not asked is not dry", three(bleeds, good, [](SiteCheck& c) { c.bleeding.reset(); }), "site-bleeding", "emergency Procedure/p1 since 15:50 | alert.site-bleeding{at=15:50 size=0 cm} | from 18"},
      {"4.9 cm", seen(size(4.9)), "swelling", "none"},
      {"5 cm", seen(size(5)), "swelling", "urgent Procedure/p1 since 15:58 | alert.swelling-large{at=15:58 size=5 cm} | from 18"},
      {"9.9 cm", seen(size(9.9)), "swelling", "urgent Procedure/p1 since 15:58 | alert.swelling-large{at=15:58 size=9.9 cm} | from 18"},
      {"10 cm", seen(size(10)), "swelling", "emergency Procedure/p1 since 15:58 | alert.swelling-very-large{at=15:58 size=10 cm} | from 18"},
      {"grows, size not recorded", seen(growing), "swelling", "urgent Procedure/p1 since 15:58 | alert.swelling-grows{at=15:58} | from 18"},
      {"large, then larger, then smaller: the worst is told", three(size(5), size(11), size(6)), "swelling", "emergency Procedure/p1 since 15:50 | alert.swelling-very-large{at=15:54 size=11 cm} | from 18 19 20"},
      {"of equal ones the newest is told", three(size(5), size(6), good), "swelling", "urgent Procedure/p1 since 15:50 | alert.swelling-large{at=15:54 size=6 cm} | from 18 19"},
      {"a size without growth is no normal one", three(size(5), good, [](SiteCheck& c) { c.growth.reset(); }), "swelling", "urgent Procedure/p1 since 15:50 | alert.swelling-large{at=15:50 size=5 cm} | from 18"},
      {"no pulse", seen(pulse(FootPulse::absent)), "limb-ischaemia", "emergency Procedure/p1 since 15:58 | alert.limb-ischaemia{at=15:58 size=0 cm} | from 18"},
      {"pale", seen(member(&SiteCheck::colour, FootPulse::weaker)), "limb-ischaemia", "emergency Procedure/p1 since 15:58 | alert.limb-signs{at=15:58 size=0 cm} | from 18"},
      {"cold", seen(member(&SiteCheck::warmth, FootPulse::weaker)), "limb-ischaemia", "emergency Procedure/p1 since 15:58 | alert.limb-signs{at=15:58 size=0 cm} | from 18"},
      {"no feeling", seen(member(&SiteCheck::feeling, FootPulse::absent)), "limb-ischaemia", "emergency Procedure/p1 since 15:58 | alert.limb-signs{at=15:58 size=0 cm} | from 18"},
      {"no movement", seen(member(&SiteCheck::movement, FootPulse::absent)), "limb-ischaemia", "emergency Procedure/p1 since 15:58 | alert.limb-signs{at=15:58 size=0 cm} | from 18"},
      {"less feeling is not that", seen(member(&SiteCheck::feeling, FootPulse::weaker)), "limb-ischaemia", "none"},
      {"a weaker pulse does not end it", three(pulse(FootPulse::absent), good, pulse(FootPulse::weaker)), "limb-ischaemia", "emergency Procedure/p1 since 15:50 | alert.limb-ischaemia{at=15:50 size=0 cm} | from 18"},
      {"two as before end it", three(pulse(FootPulse::absent), good, good), "limb-ischaemia", "none"},
      {"weaker", seen(pulse(FootPulse::weaker)), "foot-pulse-weaker", "urgent Procedure/p1 since 15:58 | alert.foot-pulse-weaker{at=15:58 size=0 cm} | from 18"},
      {"an absent one does not end it", three(pulse(FootPulse::weaker), good, pulse(FootPulse::absent)), "foot-pulse-weaker", "urgent Procedure/p1 since 15:50 | alert.foot-pulse-weaker{at=15:50 size=0 cm} | from 18"},
      {"less feeling", seen(member(&SiteCheck::feeling, FootPulse::weaker)), "limb-weakness", "urgent Procedure/p1 since 15:58 | alert.limb-weakness{at=15:58 size=0 cm} | from 18"},
      {"less movement", seen(member(&SiteCheck::movement, FootPulse::weaker)), "limb-weakness", "urgent Procedure/p1 since 15:58 | alert.limb-weakness{at=15:58 size=0 cm} | from 18"},
      {"what was not asked ends nothing", three(member(&SiteCheck::movement, FootPulse::weaker), good, good), "limb-weakness", "urgent Procedure/p1 since 15:50 | alert.limb-weakness{at=15:50 size=0 cm} | from 18"},
      {"mass", seen(flag(&SiteCheck::mass_or_bruit, true)), "mass-or-bruit", "urgent Procedure/p1 since 15:58 | alert.mass-or-bruit{at=15:58 size=0 cm} | from 18"},
      {"mass, then twice none", three(flag(&SiteCheck::mass_or_bruit, true), flag(&SiteCheck::mass_or_bruit, false), flag(&SiteCheck::mass_or_bruit, false)), "mass-or-bruit", "none"},
      {"mass, then not looked for", three(flag(&SiteCheck::mass_or_bruit, true), good, good), "mass-or-bruit", "urgent Procedure/p1 since 15:50 | alert.mass-or-bruit{at=15:50 size=0 cm} | from 18"},
      {"skin", seen(flag(&SiteCheck::skin_damage, true)), "skin-under-device", "urgent Procedure/p1 since 15:58 | alert.skin-under-device{at=15:58 size=0 cm} | from 18"},
      {"pain 7", seen([](SiteCheck& c) { c.pain = amount(7); }), "pain", "urgent Procedure/p1 since 15:58 | alert.pain{at=15:58 size=0 cm score=7} | from 18"},
      {"pain 6", seen([](SiteCheck& c) { c.pain = amount(6); }), "pain", "none"},
      {"pain, then twice less", three([](SiteCheck& c) { c.pain = amount(8); }, [](SiteCheck& c) { c.pain = amount(3); }, [](SiteCheck& c) { c.pain = amount(2); }), "pain", "none"},
  });
}

TEST(AlertSays, RebleedQuestion) {
  const auto answer = [](const char* seen_, Instant at) { return [=](Chart& c) { c.decide(Step::check_site, seen_, at); }; };
  expect_said(dry_at_1532(), hm(16, 5), {
      {"ooze", seen(oozes), "rebleed-question", "tell Procedure/p1 since 15:58 | alert.rebleed-question{at=15:58} | from 18"},
      {"blood", seen(bleeds), "rebleed-question", "urgent Procedure/p1 since 15:58 | alert.rebleed-question-blood{at=15:58} | from 18"},
      {"ooze, then blood", three(oozes, good, bleeds), "rebleed-question", "urgent Procedure/p1 since 15:50 | alert.rebleed-question-blood{at=15:58} | from 18 20"},
      {"blood, then ooze", three(bleeds, good, oozes), "rebleed-question", "urgent Procedure/p1 since 15:50 | alert.rebleed-question-blood{at=15:50} | from 18 20"},
      {"ooze and ooze", three(oozes, good, oozes), "rebleed-question", "tell Procedure/p1 since 15:50 | alert.rebleed-question{at=15:58} | from 18 20"},
      {"at T0", [](Chart& c) { oozes(c.check(hm(15, 32))); }, "rebleed-question", "tell Procedure/p1 since 15:32 | alert.rebleed-question{at=15:32} | from 18"},
      {"before T0", [](Chart& c) { oozes(c.check(hm(15, 31, 59))); }, "rebleed-question", "none"},
      {"answered", all(seen(oozes), answer("ooze", hm(16))), "rebleed-question", "none"},
      {"answered at that instant", all(seen(oozes), answer("ooze", hm(15, 58))), "rebleed-question", "none"},
      {"answered before", all(seen(oozes), answer("ooze", hm(15, 57, 59))), "rebleed-question", "tell Procedure/p1 since 15:58 | alert.rebleed-question{at=15:58} | from 18"},
      {"answered for something else", all(seen(bleeds), answer("ooze", hm(16))), "rebleed-question", "urgent Procedure/p1 since 15:58 | alert.rebleed-question-blood{at=15:58} | from 18"},
      {"answered by nobody", all(seen(oozes), [](Chart& c) { c.decide(Step::check_site, "ooze", hm(16)).performer.clear(); }), "rebleed-question", "tell Procedure/p1 since 15:58 | alert.rebleed-question{at=15:58} | from 18"},
      {"answered at a time that is not exact", all(seen(oozes), [](Chart& c) { c.decide(Step::check_site, "ooze", hm(16)).at = Moment{hm(16), hm(16, 1)}; }), "rebleed-question", "tell Procedure/p1 since 15:58 | alert.rebleed-question{at=15:58} | from 18"},
      {"answered, nobody knows when", all(seen(oozes), [](Chart& c) { c.decide(Step::check_site, "ooze", hm(16)).at.reset(); }), "rebleed-question", "tell Procedure/p1 since 15:58 | alert.rebleed-question{at=15:58} | from 18"},
      {"an answer to another step", all(seen(oozes), [](Chart& c) { c.decide(Step::sit_up, "ooze", hm(16)); }), "rebleed-question", "tell Procedure/p1 since 15:58 | alert.rebleed-question{at=15:58} | from 18"},
  });
}

TEST(AlertSays, OfTheCourse) {
  const auto bled_again = [](Chart& c) { c.event(compression_started, hm(15, 40)); };
  const auto dry_again = [](Chart& c) { c.event(haemostasis_confirmed, hm(16)); };
  const auto check = [](Instant at, Change change = good) { return [=](Chart& c) { change(c.check(at)); }; };
  expect_said(dry_at_1532(), hm(16, 10), {
      {"pressed again", bled_again, "rebleed", "tell Procedure/p1 since 15:40 | alert.rebleed{at=15:40 times=1}"},
      {"dry, not looked at twice", all(bled_again, dry_again, check(hm(16, 5))), "rebleed", "tell Procedure/p1 since 15:40 | alert.rebleed{at=15:40 times=1}"},
      {"dry and looked at twice, once at T0", all(bled_again, dry_again, check(hm(16)), check(hm(16, 5))), "rebleed", "none"},
      {"one look was before T0", all(bled_again, dry_again, check(hm(15, 59)), check(hm(16, 5))), "rebleed", "tell Procedure/p1 since 15:40 | alert.rebleed{at=15:40 times=1}"},
      {"one look found ooze", all(bled_again, dry_again, check(hm(16, 2), oozes), check(hm(16, 5))), "rebleed", "tell Procedure/p1 since 15:40 | alert.rebleed{at=15:40 times=1}"},
      {"one look found a wet dressing", all(bled_again, dry_again, check(hm(16, 2), [](SiteCheck& c) { c.wet_dressing = true; }), check(hm(16, 5))), "rebleed", "tell Procedure/p1 since 15:40 | alert.rebleed{at=15:40 times=1}"},
      {"and again", all(bled_again, dry_again, [](Chart& c) { c.event(compression_started, hm(16, 4)); }), "rebleed", "urgent Procedure/p1 since 16:04 | alert.rebleed-again{at=16:04 times=2}"},
      {"never", [](Chart&) {}, "rebleed", "none"},
      {"as planned", [](Chart&) {}, "early-haemostasis", "none"},
      {"sooner", [](Chart& c) { c.record.access_events.back().at = exactly(hm(15, 31, 59)); }, "early-haemostasis", "tell Procedure/p1 since 15:31:59 | alert.early-haemostasis{at=15:31:59 planned=20min} | from 16"},
      {"side not recorded", [](Chart& c) { c.index().sides.clear(); }, "timeline-withheld", "tell Procedure/p1 since 12:00 | withheld.side | from Procedure/p1"},
  });
  // 15:12 + 20 min = 15:32, and 10 min for a late look: from 15:42:01.
  expect_said(pressed_at_1512(), hm(15, 42), {{"planned end past by ten minutes", [](Chart&) {}, "timeline-withheld", "none"}});
  expect_said(pressed_at_1512(), hm(15, 42, 1), {
      {"by more", [](Chart&) {}, "timeline-withheld", "tell Procedure/p1 since 15:32 | alert.haemostasis-missing{from=15:32} | from 16"},
      {"ended alone, less than ten minutes ago", [](Chart& c) { c.event(compression_ended, hm(15, 33)); }, "timeline-withheld", "none"},
      {"ended alone", [](Chart& c) { c.event(compression_ended, hm(15, 30)); }, "timeline-withheld", "tell Procedure/p1 since 15:30 | alert.haemostasis-missing{from=15:30} | from 16"},
  });
  Chart clamp = intervention_chart(6, Closure::mechanical);
  pull_at(clamp, hm(15));
  const auto ordered = [](Chart& c) { c.decide(Step::end_compression, "135 min", hm(15, 2)); };
  expect_said(clamp, hm(17), {{"a clamp on for two hours", [](Chart&) {}, "device-total", "none"}});
  expect_said(clamp, hm(17, 0, 1), {
      {"and a second", [](Chart&) {}, "device-total", "urgent Procedure/p1 since 15:00 | alert.device-total{from=15:00 limit=2h} | from 16"},
      {"taken off", [](Chart& c) { c.event(compression_ended, hm(16, 59)); }, "device-total", "none"},
      {"ordered for longer", ordered, "device-total", "none"},
      {"started again while it was on", [](Chart& c) { c.event(compression_started, hm(16)); }, "device-total", "urgent Procedure/p1 since 15:00 | alert.device-total{from=15:00 limit=2h} | from 16"},
  });
  expect_said(clamp, hm(17, 15, 1), {{"longer than ordered", ordered, "device-total", "urgent Procedure/p1 since 15:00 | alert.device-total{from=15:00 limit=135min} | from 16"}});
  // 13:00 + 6 h = 19:00.
  expect_said(intervention_chart(6), hm(19), {{"six hours with the sheath in", [](Chart&) {}, "sheath-dwell", "none"}});
  expect_said(intervention_chart(6), hm(19, 0, 1), {{"and a second", [](Chart&) {}, "sheath-dwell", "tell Procedure/p1 since 13:00 | alert.sheath-dwell{from=13:00 limit=6h} | from Procedure/p1"}});
  // Checks 15:47, 16:02, 16:17: each is late 10 min after it.
  expect_said(dry_at_1532(), hm(15, 57), {{"due for ten minutes", [](Chart&) {}, "missed-check", "none"}});
  expect_said(dry_at_1532(), hm(15, 57, 1), {{"one missed", [](Chart&) {}, "missed-check", "tell Procedure/p1 since 15:47 | alert.missed-check{at=15:47}"}});
  expect_said(dry_at_1532(), hm(16, 12, 1), {
      {"two missed", [](Chart&) {}, "missed-check", "urgent Procedure/p1 since 15:47 | alert.missed-checks{at=15:47}"},
      {"one made between", check(hm(15, 58)), "missed-check", "none"},
  });
  expect_said(dry_at_1532(), hm(16, 20), {
      {"one made after two missed", check(hm(16, 17)), "missed-check", "urgent Procedure/p1 since 15:47 | alert.missed-checks-made-since{at=15:47}"},
  });
  expect_said(dry_at_1532(), hm(16, 35), {
      {"two made after two missed", all(check(hm(16, 17)), check(hm(16, 32))), "missed-check", "none"},
  });
}

TEST(AlertSays, OfPressureAndPulse) {
  const auto systolic = [](double value) { return lab(Analyte::systolic, value, hm(16)); };
  const auto rate = [](double value) { return lab(Analyte::heart_rate, value, hm(16)); };
  // A fall is measured from the first reading of the case in the open range: 128 at 15:07, so 98 is a fall by 30.
  expect_said(dry_at_1532(), hm(16, 1), {
      {"79", systolic(79), "systolic-low", "emergency since 16:00 | alert.systolic-very-low{value=79 at=16:00} | from 18"},
      {"80", systolic(80), "systolic-low", "urgent since 16:00 | alert.systolic-low{value=80 at=16:00} | from 18"},
      {"89", systolic(89), "systolic-low", "urgent since 16:00 | alert.systolic-low{value=89 at=16:00} | from 18"},
      {"90", systolic(90), "systolic-low", "urgent since 16:00 | alert.systolic-fall{value=90 at=16:00} | from 18"},
      {"98", systolic(98), "systolic-low", "urgent since 16:00 | alert.systolic-fall{value=98 at=16:00} | from 18"},
      {"99", systolic(99), "systolic-low", "none"},
      {"low once, good once", all(lab(Analyte::systolic, 85, hm(15, 55)), systolic(120)), "systolic-low", "urgent since 15:55 | alert.systolic-low{value=85 at=15:55} | from 18"},
      {"low once, good twice", all(lab(Analyte::systolic, 85, hm(15, 50)), lab(Analyte::systolic, 120, hm(15, 55)), systolic(120)), "systolic-low", "none"},
      {"the first reading was high: no baseline", all(lab(Analyte::systolic, 150, hm(12, 30)), systolic(99)), "systolic-low", "none"},
      {"the first reading was the highest that is open", all(lab(Analyte::systolic, 149, hm(12, 30)), systolic(119)), "systolic-low", "urgent since 16:00 | alert.systolic-fall{value=119 at=16:00} | from 19"},
      {"the first reading was low: no baseline", all(lab(Analyte::systolic, 89, hm(12, 30)), systolic(99)), "systolic-low", "none"},
      {"159 at rest", systolic(159), "systolic-high", "none"},
      {"160 at rest", systolic(160), "systolic-high", "tell since 16:00 | alert.systolic-high{value=160 at=16:00} | from 18"},
      {"179 at rest", systolic(179), "systolic-high", "tell since 16:00 | alert.systolic-high{value=179 at=16:00} | from 18"},
      {"180", systolic(180), "systolic-high", "urgent since 16:00 | alert.systolic-high{value=180 at=16:00} | from 18"},
      {"39", rate(39), "heart-rate", "emergency since 16:00 | alert.heart-rate-very-low{value=39 at=16:00} | from 18"},
      {"40", rate(40), "heart-rate", "none"},
      {"120", rate(120), "heart-rate", "none"},
      {"121", rate(121), "heart-rate", "urgent since 16:00 | alert.heart-rate-high{value=121 at=16:00} | from 18"},
      {"somewhere from 110 on", [](Chart& c) { c.lab(Analyte::heart_rate, 110, hm(16)).value = compared(Comparator::at_least, 110); }, "heart-rate", "urgent since 16:00 | alert.heart-rate-high{value=>=110 at=16:00} | from 18"},
      {"49 with 89, five minutes apart", all(lab(Analyte::systolic, 89, hm(15, 55)), rate(49)), "vasovagal", "emergency since 16:00 | alert.vasovagal{value=49 at=16:00} | from 19"},
      {"49 with 89, five minutes apart, the pulse first", all(lab(Analyte::heart_rate, 49, hm(15, 55)), systolic(89)), "vasovagal", "emergency since 15:55 | alert.vasovagal{value=49 at=15:55} | from 18"},
      {"further apart", all(lab(Analyte::systolic, 89, hm(15, 54, 59)), rate(49)), "vasovagal", "none"},
      {"50 with 89", all(systolic(89), rate(50)), "vasovagal", "none"},
      {"49 with 90", all(systolic(90), rate(49)), "vasovagal", "none"},
      {"from before the case", all(lab(Analyte::systolic, 70, hm(11, 59)), lab(Analyte::heart_rate, 30, hm(11, 59))), "systolic-low", "none"},
      {"from before the case, the pulse", lab(Analyte::heart_rate, 30, hm(11, 59)), "heart-rate", "none"},
      {"at the start of the case", lab(Analyte::heart_rate, 30, hm(12)), "heart-rate", "emergency since 12:00 | alert.heart-rate-very-low{value=30 at=12:00} | from 18"},
  });
  // With the sheath in or under the hand a pressure of 150 is told and one of 160 urgent.
  expect_said(pressed_at_1512(), hm(15, 20), {
      {"149 under the hand", lab(Analyte::systolic, 149, hm(15, 19)), "systolic-high", "none"},
      {"150 under the hand", lab(Analyte::systolic, 150, hm(15, 19)), "systolic-high", "tell since 15:19 | alert.systolic-high{value=150 at=15:19} | from 17"},
      {"159 under the hand", lab(Analyte::systolic, 159, hm(15, 19)), "systolic-high", "tell since 15:19 | alert.systolic-high{value=159 at=15:19} | from 17"},
      {"160 under the hand", lab(Analyte::systolic, 160, hm(15, 19)), "systolic-high", "urgent since 15:19 | alert.systolic-high{value=160 at=15:19} | from 17"},
  });
}

TEST(AlertSays, OfBloodAndBackPain) {
  const auto pain_with = [](auto more) { return all(seen([](SiteCheck& c) { c.back_pain = true; }), more); };
  constexpr auto kBleed = "emergency since 15:58 | alert.retroperitoneal-bleed{at=15:58} | from 18";
  const auto hb = [](double value) { return lab(Analyte::haemoglobin, value); };
  const auto gp = [](Chart& c) { c.bolus(Agent::eptifibatide, 0, hm(12, 20)); };
  expect_said(dry_at_1532(), hm(16, 15), {
      {"back pain, 89 a quarter of an hour before", pain_with(lab(Analyte::systolic, 89, hm(15, 43))), "retroperitoneal-bleed", kBleed},
      {"back pain, 89 a quarter of an hour after", pain_with(lab(Analyte::systolic, 89, hm(16, 13))), "retroperitoneal-bleed", kBleed},
      {"back pain, 89 earlier", pain_with(lab(Analyte::systolic, 89, hm(15, 42, 59))), "retroperitoneal-bleed", "none"},
      {"back pain, 98: fallen by 30", pain_with(lab(Analyte::systolic, 98)), "retroperitoneal-bleed", kBleed},
      {"back pain, 99", pain_with(lab(Analyte::systolic, 99)), "retroperitoneal-bleed", "none"},
      {"back pain, pulse 101", pain_with(lab(Analyte::heart_rate, 101)), "retroperitoneal-bleed", kBleed},
      {"back pain, pulse 100", pain_with(lab(Analyte::heart_rate, 100)), "retroperitoneal-bleed", "none"},
      {"back pain, pulse 101 earlier", pain_with(lab(Analyte::heart_rate, 101, hm(15, 42, 59))), "retroperitoneal-bleed", "none"},
      {"back pain, haemoglobin fallen by 2", pain_with(hb(12)), "retroperitoneal-bleed", kBleed},
      {"back pain, haemoglobin fallen by 1.9", pain_with(hb(12.1)), "retroperitoneal-bleed", "none"},
      {"no back pain, 89", lab(Analyte::systolic, 89), "retroperitoneal-bleed", "none"},
      {"back pain, then two looks without, and nothing good measured", all(three([](SiteCheck& c) { c.back_pain = true; }, good, good), lab(Analyte::systolic, 89, hm(15, 50))), "retroperitoneal-bleed",
       "emergency since 15:50 | alert.retroperitoneal-bleed{at=15:50} | from 18"},
      {"haemoglobin 12.1", hb(12.1), "haemoglobin-fall", "none"},
      {"haemoglobin 12", hb(12), "haemoglobin-fall", "urgent since 15:58 | alert.haemoglobin-fall{from=14 to=12 fall=2 g/dL} | from 18 5"},
      {"haemoglobin 11.1", hb(11.1), "haemoglobin-fall", "urgent since 15:58 | alert.haemoglobin-fall{from=14 to=11.1 fall=2.9 g/dL} | from 18 5"},
      {"haemoglobin 11", hb(11), "haemoglobin-fall", "emergency since 15:58 | alert.haemoglobin-fall{from=14 to=11 fall=3 g/dL} | from 18 5"},
      {"the highest of seven days", all(lab(Analyte::haemoglobin, 15, hm(12 - 7 * 24)), hb(13)), "haemoglobin-fall", "urgent since 15:58 | alert.haemoglobin-fall{from=15 to=13 fall=2 g/dL} | from 18 19"},
      {"one from before them", all(lab(Analyte::haemoglobin, 15, hm(11 - 7 * 24)), hb(13)), "haemoglobin-fall", "none"},
      {"fallen before the case only", [](Chart& c) { std::erase_if(c.record.measurements, [](const Measurement& m) { return m.analyte == Analyte::haemoglobin; }); c.lab(Analyte::haemoglobin, 15, hm(8)); c.lab(Analyte::haemoglobin, 12, hm(11)); }, "haemoglobin-fall", "none"},
      {"99 with a GP inhibitor", all(gp, lab(Analyte::platelets, 99)), "platelets-with-gp-inhibitor", "urgent since 15:58 | alert.platelets-with-gp-inhibitor{value=99 at=15:58} | from 19"},
      {"100 with a GP inhibitor", all(gp, lab(Analyte::platelets, 100)), "platelets-with-gp-inhibitor", "none"},
      {"99 without", lab(Analyte::platelets, 99), "platelets-with-gp-inhibitor", "none"},
      {"99 beside a flush of one", all(gp, [](Chart& c) { c.record.administrations.back().flush = true; }, lab(Analyte::platelets, 99)), "platelets-with-gp-inhibitor", "none"},
      {"110 of 220 after heparin", lab(Analyte::platelets, 110), "platelet-fall", "urgent since 15:58 | alert.platelet-fall{value=110 at=15:58} | from 18"},
      {"111 of 220", lab(Analyte::platelets, 111), "platelet-fall", "none"},
      {"from 150 to 99: low", [](Chart& c) { for (auto& m : c.record.measurements) if (m.analyte == Analyte::platelets) m.value = amount(150); c.lab(Analyte::platelets, 99, hm(15, 58)); }, "platelet-fall", "tell since 15:58 | alert.platelets-after-heparin{value=99 at=15:58} | from 18"},
      {"from 150 to 100", [](Chart& c) { for (auto& m : c.record.measurements) if (m.analyte == Analyte::platelets) m.value = amount(150); c.lab(Analyte::platelets, 100, hm(15, 58)); }, "platelet-fall", "none"},
      {"from 99 to 90: low before", [](Chart& c) { for (auto& m : c.record.measurements) if (m.analyte == Analyte::platelets) m.value = amount(99); c.lab(Analyte::platelets, 90, hm(15, 58)); }, "platelet-fall", "none"},
      {"halved, and nobody knows of heparin", [](Chart& c) { c.record.administrations.clear(); c.lab(Analyte::platelets, 110, hm(15, 58)); }, "platelet-fall",
       "urgent since 15:58 | alert.platelet-fall-untold{value=110 at=15:58} | from 18"},
      {"halved without heparin", [](Chart& c) { c.record.administrations.clear(); c.lab(Analyte::platelets, 110, hm(15, 58)); c.state(StatementKind::no_anticoagulant_given, hm(15, 59)); }, "platelet-fall", "none"},
      {"halved after enoxaparin", [](Chart& c) { c.record.administrations.clear(); c.bolus(Agent::enoxaparin, 40, hm(11)); c.lab(Analyte::platelets, 110, hm(15, 58)); }, "platelet-fall", "urgent since 15:58 | alert.platelet-fall{value=110 at=15:58} | from 19"},
      {"halved at the start of the case", [](Chart& c) { std::erase_if(c.record.measurements, [](const Measurement& m) { return m.analyte == Analyte::platelets; }); c.record.administrations.clear(); c.bolus(Agent::enoxaparin, 40, hm(8)); c.lab(Analyte::platelets, 220, hm(7)); c.lab(Analyte::platelets, 110, hm(12)); },
       "platelet-fall", "urgent since 12:00 | alert.platelet-fall{value=110 at=12:00} | from 20"},
      {"halved before it", [](Chart& c) { std::erase_if(c.record.measurements, [](const Measurement& m) { return m.analyte == Analyte::platelets; }); c.record.administrations.clear(); c.bolus(Agent::enoxaparin, 40, hm(8)); c.lab(Analyte::platelets, 220, hm(7)); c.lab(Analyte::platelets, 110, hm(11, 59, 59)); }, "platelet-fall", "none"},
      {"halved between two heparins", [](Chart& c) { std::erase_if(c.record.measurements, [](const Measurement& m) { return m.analyte == Analyte::platelets; }); c.bolus(Agent::enoxaparin, 40, hm(8)); c.lab(Analyte::platelets, 220, hm(7)); c.lab(Analyte::platelets, 110, hm(12, 3)); },
       "platelet-fall", "urgent since 12:03 | alert.platelet-fall{value=110 at=12:03} | from 20"},
      {"halved at the instant of the heparin", [](Chart& c) { c.record.administrations[0].start = c.record.administrations[0].end = exactly(hm(12, 20)); c.lab(Analyte::platelets, 110, hm(12, 20)); }, "platelet-fall", "none"},
  });
}

TEST(AlertSays, OfTheAct) {
  const Chart sheath_in = intervention_chart(6);
  const auto draws = [](double a, double b, double c) { return all(lab(Analyte::act, a, hm(13)), lab(Analyte::act, b, hm(13, 30)), lab(Analyte::act, c, hm(14))); };
  // From 160 s at 13:00 the half of the curves falls under 150 s after 90 * log2(30 / 20) = 52.6 min: 13:52:39.
  expect_said(sheath_in, hm(14, 5), {
      {"not falling at two draws", draws(210, 210, 210), "act-high", "urgent since 14:00 | alert.act-not-falling{value=210 at=14:00} | from 12"},
      {"rising", draws(160, 165, 199), "act-high", "tell since 14:00 | alert.act-not-falling{value=199 at=14:00} | from 12"},
      {"200 s is urgent", draws(200, 200, 200), "act-high", "urgent since 14:00 | alert.act-not-falling{value=200 at=14:00} | from 12"},
      {"fell at the first of the two", draws(260, 259, 259), "act-high", "none"},
      {"fell at the second", draws(260, 260, 259), "act-high", "none"},
      {"under the limit", draws(160, 149, 149), "act-high", "none"},
      {"the first of them at the instant of a heparin", all(draws(160, 165, 199), [](Chart& c) { c.bolus(Agent::heparin, 2000, hm(13)); }), "act-high", "none"},
      {"a heparin of unknown time changes none of it", all(draws(160, 165, 199), [](Chart& c) { auto& a = c.bolus(Agent::heparin, 2000, hm(13)); a.start.reset(); a.end.reset(); }), "act-high", "tell since 14:00 | alert.act-not-falling{value=199 at=14:00} | from 12"},
      {"still over when half the curves are under", all(lab(Analyte::act, 160, hm(13)), lab(Analyte::act, 155, hm(13, 53))), "act-high", "tell since 13:53 | alert.act-high-at-pull{value=155 at=13:53} | from 11"},
      {"over before that", all(lab(Analyte::act, 160, hm(13)), lab(Analyte::act, 155, hm(13, 52))), "act-high", "none"},
      {"one draw alone", lab(Analyte::act, 300, hm(13)), "act-high", "none"},
      {"draws from before the last dose do not count", all(draws(210, 210, 210), [](Chart& c) { c.bolus(Agent::heparin, 2000, hm(13, 30)); }), "act-high", "none"},
  });
  expect_said(dry_at_1532(), hm(16), {{"the sheath is out", all(lab(Analyte::act, 210, hm(15, 40)), lab(Analyte::act, 210, hm(15, 45)), lab(Analyte::act, 210, hm(15, 50))), "act-high", "none"}});
}

TEST(AlertSays, OfFindings) {
  const auto flag = [](std::optional<bool> SiteCheck::*m, bool yes) { return Change([m, yes](SiteCheck& c) { c.*m = yes; }); };
  const auto sits_up = [](Instant at) { return [=](Chart& c) { c.done(Step::sit_up, at); }; };
  const auto pressure = [](double systolic, double diastolic, Instant at) { return [=](Chart& c) { c.lab(Analyte::systolic, systolic, at); c.lab(Analyte::diastolic, diastolic, at); }; };
  expect_said(dry_at_1532(), hm(16, 10), {
      {"chest pain", seen(flag(&SiteCheck::chest_pain, true)), "chest-pain", "emergency since 15:58 | alert.chest-pain{at=15:58} | from 18"},
      {"chest pain, then twice none", three(flag(&SiteCheck::chest_pain, true), flag(&SiteCheck::chest_pain, false), flag(&SiteCheck::chest_pain, false)), "chest-pain", "none"},
      {"chest pain, then not asked", three(flag(&SiteCheck::chest_pain, true), good, good), "chest-pain", "emergency since 15:50 | alert.chest-pain{at=15:50} | from 18"},
      {"chest pain before the case", [](Chart& c) { c.check(hm(11, 59)).chest_pain = true; }, "chest-pain", "none"},
      {"chest pain at its start", [](Chart& c) { c.check(hm(12)).chest_pain = true; }, "chest-pain", "emergency since 12:00 | alert.chest-pain{at=12:00} | from 18"},
      {"sign of a stroke", seen(flag(&SiteCheck::neurological_sign, true)), "neurological-sign", "emergency since 15:58 | alert.neurological-sign{at=15:58} | from 18"},
      {"91 %", lab(Analyte::oxygen_saturation, 91), "oxygen-saturation", "urgent since 15:58 | alert.oxygen-saturation{value=91 at=15:58} | from 18"},
      {"92 %", lab(Analyte::oxygen_saturation, 92), "oxygen-saturation", "none"},
      {"85 % before the case", lab(Analyte::oxygen_saturation, 85, hm(11, 59, 59)), "oxygen-saturation", "none"},
      {"85 % at its start", lab(Analyte::oxygen_saturation, 85, hm(12)), "oxygen-saturation", "urgent since 12:00 | alert.oxygen-saturation{value=85 at=12:00} | from 18"},
      {"fallen by 4", all(lab(Analyte::oxygen_saturation, 98, hm(15)), lab(Analyte::oxygen_saturation, 94)), "oxygen-saturation", "urgent since 15:58 | alert.oxygen-saturation{value=94 at=15:58} | from 19"},
      {"fallen by 3", all(lab(Analyte::oxygen_saturation, 98, hm(15)), lab(Analyte::oxygen_saturation, 95)), "oxygen-saturation", "none"},
      {"from the highest, not the last", all(lab(Analyte::oxygen_saturation, 98, hm(15)), lab(Analyte::oxygen_saturation, 96, hm(15, 30)), lab(Analyte::oxygen_saturation, 94)), "oxygen-saturation", "urgent since 15:58 | alert.oxygen-saturation{value=94 at=15:58} | from 20"},
      {"38.0", lab(Analyte::temperature, 38), "temperature", "tell since 15:58 | alert.temperature{value=38 at=15:58} | from 18"},
      {"37.9", lab(Analyte::temperature, 37.9), "temperature", "none"},
      {"dizzy", seen(flag(&SiteCheck::dizziness, true)), "orthostatic", "tell since 15:58 | alert.orthostatic-dizzy{at=15:58} | from 18"},
      {"falls by 20", all(pressure(128, 70, hm(15, 50)), sits_up(hm(15, 52)), pressure(108, 70, hm(15, 55))), "orthostatic", "tell since 15:55 | alert.orthostatic-fall{value=108 at=15:55} | from 21"},
      {"falls by 19", all(pressure(128, 70, hm(15, 50)), sits_up(hm(15, 52)), pressure(109, 70, hm(15, 55))), "orthostatic", "none"},
      {"diastolic by 10", all(pressure(128, 70, hm(15, 50)), sits_up(hm(15, 52)), pressure(128, 60, hm(15, 55))), "orthostatic", "tell since 15:55 | alert.orthostatic-fall{value=60 at=15:55} | from 22"},
      {"diastolic by 9", all(pressure(128, 70, hm(15, 50)), sits_up(hm(15, 52)), pressure(128, 61, hm(15, 55))), "orthostatic", "none"},
      {"on standing", all(pressure(128, 70, hm(15, 50)), [](Chart& c) { c.done(Step::stand_and_walk, hm(15, 52)); }, pressure(108, 70, hm(15, 55))), "orthostatic", "tell since 15:55 | alert.orthostatic-fall{value=108 at=15:55} | from 21"},
      {"on raising the head: not asked", all(pressure(128, 70, hm(15, 50)), [](Chart& c) { c.done(Step::raise_head, hm(15, 52)); }, pressure(108, 70, hm(15, 55))), "orthostatic", "none"},
      {"not done yet", all(pressure(128, 70, hm(15, 50)), [](Chart& c) { c.done(Step::sit_up, hm(15, 52)).state = TaskState::accepted; }, pressure(108, 70, hm(15, 55))), "orthostatic", "none"},
      {"done at an unknown time", all(pressure(128, 70, hm(15, 50)), [](Chart& c) { c.done(Step::sit_up, hm(15, 52)).changed.reset(); }, pressure(108, 70, hm(15, 55))), "orthostatic", "none"},
      {"a quarter of an hour later", all(pressure(128, 70, hm(15, 50)), sits_up(hm(15, 52)), pressure(108, 70, hm(16, 7))), "orthostatic", "tell since 16:07 | alert.orthostatic-fall{value=108 at=16:07} | from 21"},
      {"later than that", all(pressure(128, 70, hm(15, 50)), sits_up(hm(15, 52)), pressure(108, 70, hm(16, 7, 1))), "orthostatic", "none"},
      {"the first reading after it, not a later one", all(pressure(128, 70, hm(15, 50)), sits_up(hm(15, 52)), pressure(120, 70, hm(15, 54)), pressure(108, 70, hm(15, 56))), "orthostatic", "none"},
      {"the last reading before it, not an earlier one", all(pressure(140, 70, hm(15, 40)), pressure(125, 70, hm(15, 52)), sits_up(hm(15, 52)), pressure(110, 70, hm(15, 54))), "orthostatic", "none"},
      {"299 mL", seen([](SiteCheck& c) { c.bladder = amount(299, "mL"); }), "urine", "none"},
      {"300 mL", seen([](SiteCheck& c) { c.bladder = amount(300, "mL"); }), "urine", "tell since 15:58 | alert.urine-scan{volume=300 mL at=15:58} | from 18"},
      {"500 mL", seen([](SiteCheck& c) { c.bladder = amount(500, "mL"); }), "urine", "urgent since 15:58 | alert.urine-scan{volume=500 mL at=15:58} | from 18"},
      {"voided after the scan", three([](SiteCheck& c) { c.bladder = amount(500, "mL"); }, flag(&SiteCheck::voided, true), good), "urine", "none"},
      {"voided before the scan", three(flag(&SiteCheck::voided, true), [](SiteCheck& c) { c.bladder = amount(500, "mL"); }, good), "urine", "urgent since 15:54 | alert.urine-scan{volume=500 mL at=15:54} | from 19"},
      {"voided at the time of the scan", seen([](SiteCheck& c) { c.bladder = amount(500, "mL"); c.voided = true; }), "urine", "urgent since 15:58 | alert.urine-scan{volume=500 mL at=15:58} | from 18"},
      {"the newest scan", three([](SiteCheck& c) { c.bladder = amount(500, "mL"); }, [](SiteCheck& c) { c.bladder = amount(100, "mL"); }, good), "urine", "none"},
  });
  // 13:00 + 6 h = 19:00, + 8 h = 21:00.
  const auto no_urine = [](Chart& c) { c.check(hm(18)).voided = false; };
  expect_said(dry_at_1532(), hm(18, 59, 59), {{"not yet six hours", no_urine, "urine", "none"}});
  expect_said(dry_at_1532(), hm(19), {
      {"six hours", no_urine, "urine", "tell since 19:00 | alert.urine-none{from=13:00 limit=6h} | from 18"},
      {"six hours, nobody asked", [](Chart&) {}, "urine", "none"},
      {"six hours from an unknown end", all(no_urine, [](Chart& c) { c.index().end.reset(); }), "urine", "none"},
  });
  expect_said(dry_at_1532(), hm(20, 59, 59), {{"not yet eight hours", no_urine, "urine", "tell since 19:00 | alert.urine-none{from=13:00 limit=6h} | from 18"}});
  expect_said(dry_at_1532(), hm(21), {
      {"eight hours", no_urine, "urine", "urgent since 19:00 | alert.urine-none{from=13:00 limit=8h} | from 18"},
      {"voided since", all(no_urine, [](Chart& c) { c.check(hm(20)).voided = true; }), "urine", "none"},
  });
}

TEST(AlertSays, HeparinDespiteThrombocytopenia) {
  Chart chart = plain_chart(6);
  chart.risk(RiskKind::heparin_induced_thrombocytopenia);
  const auto heparin = [](Instant at) { return [=](Chart& c) { c.bolus(Agent::heparin, 500, at); }; };
  // 9 is the risk; what a row gives 10. Stands for 6 h after its end: 12:40 + 6 h = 18:40.
  expect_said(chart, hm(18, 39, 59), {
      {"heparin", heparin(hm(12, 40)), "heparin-despite-hit", "urgent since 12:40 | alert.heparin-despite-hit{at=12:40} | from 10"},
      {"a flush", all(heparin(hm(12, 40)), [](Chart& c) { c.record.administrations.back().flush = true; }), "heparin-despite-hit", "urgent since 12:40 | alert.heparin-flush-despite-hit{at=12:40} | from 10"},
      {"enoxaparin", [](Chart& c) { c.bolus(Agent::enoxaparin, 40, hm(12, 40)); }, "heparin-despite-hit", "urgent since 12:40 | alert.heparin-despite-hit{at=12:40} | from 10"},
      {"bivalirudin", [](Chart& c) { c.bolus(Agent::bivalirudin, 40, hm(12, 40)); }, "heparin-despite-hit", "none"},
      {"absent", all(heparin(hm(12, 40)), [](Chart& c) { c.record.risks[0].present = false; }), "heparin-despite-hit", "none"},
      {"another risk", all(heparin(hm(12, 40)), [](Chart& c) { c.record.risks[0].kind = RiskKind::cough; }), "heparin-despite-hit", "none"},
  });
  expect_said(chart, hm(18, 40), {
      {"six hours later", heparin(hm(12, 40)), "heparin-despite-hit", "none"},
      {"an infusion that runs", all(heparin(hm(12, 40)), [](Chart& c) { c.record.administrations.back().end.reset(); c.record.administrations.back().status = AdministrationStatus::in_progress; }), "heparin-despite-hit", "urgent since 12:40 | alert.heparin-despite-hit{at=12:40} | from 10"},
      {"an infusion on hold", all(heparin(hm(12, 40)), [](Chart& c) { c.record.administrations.back().status = AdministrationStatus::on_hold; }), "heparin-despite-hit", "urgent since 12:40 | alert.heparin-despite-hit{at=12:40} | from 10"},
      {"of two the one that still counts", all(heparin(hm(12, 40)), heparin(hm(13))), "heparin-despite-hit", "urgent since 13:00 | alert.heparin-despite-hit{at=13:00} | from 11"},
  });
  expect_said(chart, hm(12), {
      {"six hours before the start", all(heparin(hm(6)), [](Chart& c) { c.record.administrations.back().status = AdministrationStatus::in_progress; }), "heparin-despite-hit", "urgent since 06:00 | alert.heparin-despite-hit{at=06:00} | from 10"},
      {"earlier", all(heparin(hm(5, 59, 59)), [](Chart& c) { c.record.administrations.back().status = AdministrationStatus::in_progress; }), "heparin-despite-hit", "none"},
  });
}

TEST(AlertSays, OfACheckThatNamesNoGroin) {
  Chart chart = plain_chart(6);
  chart.procedure("p2", 6, Closure::manual, Side::left).part_of = "Procedure/p1";
  const auto looked = [](Change change) { return [=](Chart& c) { change(c.check(hm(14), "")); }; };
  const auto said = [](const char* level, const char* code) { return std::string(level) + " since 14:00 | alert." + code + "{at=14:00} | from 9"; };
  const std::string tell = said("tell", "check-without-site"), urgent = said("urgent", "check-without-site-bad"), emergency = said("emergency", "check-without-site-bad");
  expect_said(chart, hm(14, 1), {
      {"good", looked(good), "check-without-site", tell.c_str()},
      {"ooze", looked(oozes), "check-without-site", tell.c_str()},
      {"blood", looked(bleeds), "check-without-site", emergency.c_str()},
      {"no pulse", looked([](SiteCheck& c) { c.foot_pulse = FootPulse::absent; }), "check-without-site", emergency.c_str()},
      {"weaker pulse", looked([](SiteCheck& c) { c.foot_pulse = FootPulse::weaker; }), "check-without-site", urgent.c_str()},
      {"grows", looked([](SiteCheck& c) { c.growth = true; }), "check-without-site", urgent.c_str()},
      {"5 cm", looked([](SiteCheck& c) { c.swelling = amount(5, "cm"); }), "check-without-site", urgent.c_str()},
      {"4.9 cm", looked([](SiteCheck& c) { c.swelling = amount(4.9, "cm"); }), "check-without-site", tell.c_str()},
      {"its side named", [](Chart& c) { c.check(hm(14), "").side = Side::left; }, "check-without-site", "none"},
      {"both groins seen since", [](Chart& c) { c.check(hm(14), ""); c.check(hm(14, 0, 30), "").side = Side::right; c.check(hm(14, 0, 31), "Procedure/p2"); }, "check-without-site", "none"},
      {"one groin seen since", [](Chart& c) { c.check(hm(14), ""); c.check(hm(14, 0, 30), "").side = Side::right; }, "check-without-site", tell.c_str()},
  });
}

TEST(AlertSays, TheWorstFirstThenByNameAndGroin) {
  Chart chart = dry_at_1532();
  chart.check(hm(15, 58)).bleeding = Bleeding::bleeding;
  chart.lab(Analyte::temperature, 38.5, hm(15, 58));
  chart.lab(Analyte::heart_rate, 130, hm(15, 58));
  chart.pressure(75, hm(15, 58));
  std::vector<std::string> order;
  for (const auto& a : chart.plan(hm(16)).alerts) order.push_back(std::string(name_of(a.level)) + " " + a.trigger + " " + a.episode);
  EXPECT_EQ(order, (std::vector<std::string>{"emergency site-bleeding site-bleeding|Procedure/p1|2026-03-02T15:58:00Z", "emergency systolic-low systolic-low||2026-03-02T15:58:00Z",
                                             "urgent heart-rate heart-rate||2026-03-02T15:58:00Z", "urgent rebleed-question rebleed-question|Procedure/p1|2026-03-02T15:58:00Z",
                                             "tell temperature temperature||2026-03-02T15:58:00Z"}));
}

}  // namespace
}  // namespace clinical
