// Changes and notes whose mutants no test noticed, each against what change.h and the clinical model say.
#include <algorithm>

#include "clinical/change.h"
#include "clinical/change_fingerprint.h"
#include "mutants_support.h"
#include "protocol_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

// change.h: a claimed item is asked to stop where it no longer says what should be done; windows that had begun anyway are the same to its holder.
TEST(SeldomMetChange, AClaimedTaskWhoseWindowMovesBeforeItBeganIsAskedToStop) {
  Item item;
  item.key.kind = ItemKind::task;
  item.key.step = Step::draw_coagulation;
  item.key.site = "Procedure/p1";
  const auto content = [](Instant start) { return task_content(start, Digest().add(std::string_view("same"))) + ";note"; };
  const auto asked = [&](Instant theirs, Instant ours, Instant now) {
    item.start = ours;
    item.fingerprint = content(ours);
    const Standing held{item.key, content(theirs), Stands::claimed, "A. Nurse (invented)", {}};
    const auto changes = difference(Wanted{{item}, {}, {}, {}}, {held}, now).changes;
    return std::ranges::any_of(changes, [](const Change& c) { return c.key.kind == ItemKind::cancellation; });
  };
  EXPECT_FALSE(asked(hm(14), hm(14), hm(13))) << "the same";
  EXPECT_FALSE(asked(hm(14), hm(13, 30), hm(14, 10))) << "both had begun";
  EXPECT_TRUE(asked(hm(15), hm(14), hm(14, 30))) << "it waits for 15:00";
  EXPECT_TRUE(asked(hm(14), hm(15), hm(14, 30))) << "now it is later";
}

// "Never overwrite a nurse": a request to stop that somebody took up or answered stays as it was; one that nobody touched says what is right now.
TEST(SeldomMetChange, ARequestToStopThatSomebodyTookUpIsNotRewritten) {
  ItemKey held;
  held.kind = ItemKind::task;
  held.step = Step::draw_coagulation;
  held.site = "Procedure/p1";
  const Standing claimed{held, task_content(hm(14), Digest()) + ";note", Stands::claimed, "A. Nurse (invented)", {}};
  const auto asked = difference(Wanted{}, {claimed}, hm(14)).changes;
  ASSERT_EQ(asked.size(), 1U);
  ASSERT_EQ(asked.front().kind, ChangeKind::create);
  ASSERT_EQ(asked.front().key.kind, ItemKind::cancellation);
  for (const auto state : {Stands::open, Stands::claimed, Stands::completed, Stands::rejected}) {
    const Standing request{asked.front().key, "-/said before;", state, "", hm(14)};
    const auto then = difference(Wanted{}, {claimed, request}, hm(14, 5)).changes;
    EXPECT_EQ(then.size(), state == Stands::open ? 1U : 0U);
    if (!then.empty()) {
      EXPECT_EQ(then.front().kind, ChangeKind::update);
      EXPECT_EQ(then.front().key, asked.front().key);
    }
  }
}

// A question for a clinician carries what it rests on: the gate's inputs with their versions (law 5).
TEST(SeldomMetChange, AQuestionOfAGateCarriesItsInputs) {
  auto chart = plain_chart(6);
  chart.lab(Analyte::haemoglobin, 7.5, hm(13));
  const auto plan = chart.plan(hm(13, 10));
  const auto& gates = plan.sites.front().gates;
  const auto gate = std::ranges::find(gates, GateName::haemoglobin, &Gate::name);
  ASSERT_EQ(gate->state, GateState::ask);
  ASSERT_FALSE(gate->inputs.empty());
  const auto items = wanted(plan, cautious(), {}).items;
  const auto ask = std::ranges::find_if(items, [](const Item& i) { return i.key.cause == "gate haemoglobin"; });
  ASSERT_NE(ask, items.end());
  EXPECT_EQ(ask->inputs, gate->inputs);
  EXPECT_EQ(ask->value_seen, gate->value_seen);
}

// "A value expires ..." (settled points): of the open gates the one that expires first counts; one that rests on nothing that expires is none.
TEST(SeldomMetChange, TheFirstOpenGateThatExpires) {
  SitePlan site;
  const auto gate = [&](GateState state, std::optional<Instant> until) {
    Gate g;
    g.state = state;
    g.expires_at = until;
    site.gates.push_back(g);
  };
  EXPECT_FALSE(first_expiry(site));
  gate(GateState::open, {});
  EXPECT_FALSE(first_expiry(site));
  gate(GateState::open, hm(15));
  gate(GateState::closed, hm(13));
  gate(GateState::open, {});
  EXPECT_EQ(first_expiry(site), hm(15));
  gate(GateState::open, hm(14));
  gate(GateState::open, hm(16));
  EXPECT_EQ(first_expiry(site), hm(14));
}

// Heparin comes back after protamine (rebound): from when is said where its time is known, else that it is not.
TEST(SeldomMetChange, AReversalAtAnUnknownTimeIsStillToBeKeptInMind) {
  const auto said = [](const std::function<void(Administration&)>& change) {
    auto chart = intervention_chart(6);
    change(chart.bolus(Agent::protamine, 30, hm(13)));
    std::string codes;
    for (const auto& caution : chart.plan(hm(13, 30)).cautions)
      if (caution.code.starts_with("caution.rebound")) codes += caution.code + " ";
    return codes;
  };
  EXPECT_EQ(said([](Administration&) {}), "caution.rebound ");
  EXPECT_EQ(said([](Administration& a) { a.start.reset(), a.end.reset(); }), "caution.rebound-time-unknown ");
  EXPECT_EQ(said([](Administration& a) { a.start = a.end = Moment{hm(12), hm(13)}; }), "caution.rebound-time-unknown ");
}

}  // namespace
}  // namespace clinical
