// The shipped protocol against published figures, written down here a second time from their sources.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "profile/protocol_file.h"

namespace profile {
namespace {

using clinical::Protocol;
using clinical::Setting;
using clinical::whole;

const Protocol& cautious() {
  static const auto loaded = load_protocol(SOURCE_DIR "/profiles/protocol/cautious.toml");
  return loaded.protocol.value();
}

TEST(CautiousValues, AreThePublishedOnes) {
  const Protocol& p = cautious();
  // eptifibatide US label, femoral access: ACT < 150 s or aPTT < 45 s, heparin off 3 to 4 h; 5.2: stop below 100 x 10^9/L
  EXPECT_EQ(p.act_limit.micro, whole(150));
  EXPECT_EQ(p.aptt_limit.micro, whole(45));
  EXPECT_EQ(p.gp_heparin_off.micro, whole(4));
  EXPECT_EQ(p.gp_platelets_ask_below.micro, whole(100));
  // tirofiban EU product information 4.4: usually 2 to 6 h after heparin stops
  EXPECT_EQ(p.heparin_clock_hold.micro, whole(6));
  // enoxaparin US label (from memory, unverified): 6 h; ACC/AHA PCI documents: 6 to 8 h subcutaneously
  EXPECT_EQ(p.lmwh_intravenous.micro, whole(6));
  EXPECT_EQ(p.lmwh_subcutaneous.micro, whole(8));
  // SIR consensus 2019 part II, J Vasc Interv Radiol 2019;30:1168: INR 1.5 to 1.8, platelets 50, fondaparinux 2-3 d and 3-5 d
  EXPECT_EQ(p.inr_open.micro, 1'500'000);
  EXPECT_EQ(p.inr_ask.micro, 1'800'000);
  EXPECT_EQ(p.platelets_limit.micro, whole(50));
  EXPECT_EQ(p.fondaparinux_hold.micro, whole(48));
  EXPECT_EQ(p.fondaparinux_hold_impaired.micro, whole(120));
  // ACC expert consensus decision pathway 2020, femoral access
  EXPECT_EQ(p.oral_hold.micro, whole(48));
  EXPECT_EQ(p.oral_hold_impaired.micro, whole(72));
  EXPECT_EQ(p.dabigatran_hold_over_80.micro, whole(48));
  EXPECT_EQ(p.dabigatran_hold_50_80.micro, whole(72));
  EXPECT_EQ(p.dabigatran_hold_30_50.micro, whole(96));
  EXPECT_EQ(p.dabigatran_hold_under_30.micro, whole(120));
  // Nordrehaug, J Interv Cardiol 1996;9:381: 160 mmHg
  EXPECT_EQ(p.systolic_close.micro, whole(160));
  // BARC 3a: haemoglobin fall of 3 g/dL or more
  EXPECT_EQ(p.alert_haemoglobin_emergency.micro, whole(3));
}

// Half-lives: US labels, section 12.3 (bivalirudin 25 / 34 / 57 min, dialysis 3.5 h; argatroban 51 and 181 min from memory, unverified).
TEST(CautiousValues, DerivedOnesFollowFromTheirSources) {
  const Protocol& p = cautious();
  const auto scaled = [&](const Setting& slow, const Setting& normal, const Setting& hold) {
    return static_cast<double>(hold.micro) / 1e6 * static_cast<double>(slow.micro) / static_cast<double>(normal.micro);
  };
  const auto up_to = [](double minutes, double step) { return whole(static_cast<std::int64_t>(std::ceil(minutes / step) * step)); };
  EXPECT_EQ(p.bivalirudin_hold_moderate.micro, up_to(scaled(p.bivalirudin_half_life_moderate, p.bivalirudin_half_life, p.bivalirudin_hold), 5));
  EXPECT_EQ(p.bivalirudin_hold_severe.micro, up_to(scaled(p.bivalirudin_half_life_severe, p.bivalirudin_half_life, p.bivalirudin_hold), 5));
  EXPECT_EQ(p.argatroban_hold_liver.micro, up_to(scaled(p.argatroban_half_life_liver, p.argatroban_half_life, p.argatroban_hold), 5 * 2));
  EXPECT_EQ(p.enoxaparin_half_life_impaired.micro * 100, p.enoxaparin_half_life.micro * 165);  // exposure + 65 %: EU product information 5.2
  EXPECT_EQ(p.eptifibatide_half_life_impaired.micro, 2 * p.eptifibatide_half_life.micro);      // clearance halved: US label 12.3
  EXPECT_EQ(p.bivalirudin_half_life_dialysis.micro, whole(210));
}

// 3 min per French, at least 15 (J Interv Cardiol 2001;14:7), at most 30 (Cochrane summary), steps of 5; one hour of rest per French (institutional
// rule in Vlasic, J Invasive Cardiol 2001;13(12)), 4 to 8.
TEST(CautiousValues, GiveTheHoldAndRestOfEachSize) {
  const Protocol& p = cautious();
  const int holds[] = {15, 15, 20, 25, 25, 30, 30}, rests[] = {4, 5, 6, 7, 8, 8, 8};
  for (std::int64_t french = 4; french <= 10; ++french) {
    const auto step = p.hold_rounding.whole_number();
    const auto rounded = (p.hold_per_french.whole_number() * french + step - 1) / step * step;
    EXPECT_EQ(std::clamp(rounded, p.hold_shortest.whole_number(), p.hold_longest.whole_number()), holds[french - 4]) << french << " F";
    EXPECT_EQ(std::clamp(p.rest_per_french.whole_number() * french, p.rest_shortest.whole_number(), p.rest_longest.whole_number()), rests[french - 4]);
  }
}

// What the file's first lines promise of each mark.
TEST(CautiousValues, SourcesSayWhatTheirCheckMarkSays) {
  const auto check = [](const clinical::Rule& rule) {
    const bool own = rule.source.find("own cautious choice, no source") != std::string::npos;
    const bool memory = rule.source.find("from memory, unverified") != std::string::npos;
    if (rule.check == "OWN") {
      EXPECT_TRUE(own) << rule.key;
      EXPECT_EQ(rule.grade, "D") << rule.key;
    }
    if (rule.check == "CP") {
      EXPECT_THAT(rule.source, testing::StartsWith("common practice, no source")) << rule.key;
      EXPECT_EQ(rule.grade, "C") << rule.key;
    }
    if (rule.check == "M") {
      EXPECT_TRUE(memory) << rule.key;
    }
    if (rule.source.starts_with("derived")) {
      EXPECT_EQ(rule.grade, "D") << rule.key;
    }
    if (rule.source.starts_with("this protocol's own")) {
      EXPECT_EQ(rule.check, "OWN") << rule.key;
    }
    if (rule.source.starts_with("common practice")) {
      EXPECT_EQ(rule.check, "CP") << rule.key;
    }
  };
  const auto each = [&](const auto& one, auto...) { check(one.rule); };
  clinical::each_setting(cautious(), each, each);
  const auto early = load_protocol(SOURCE_DIR "/profiles/protocol/early-walk.toml");
  ASSERT_TRUE(early.protocol);
  clinical::each_early(*early.protocol->early_walk, each, each);
}

TEST(CautiousValues, AreNotApproved) { EXPECT_FALSE(cautious().approved); }

}  // namespace
}  // namespace profile
