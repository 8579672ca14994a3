// A digest of everything that the plans of random cases say, all cases in one number: two that are alike have told nothing of a mutant. It judges nothing and kills
// no mutant; it tells a survivor that no random case shows from one that the tests overlooked.
//   seen CASES SEED
#include <fmt/format.h>

#include <functional>
#include <random>

#include "clinical/compute_plan.h"
#include "clinical/change.h"
#include "profile/protocol_file.h"
#include "story.h"
#include "view.h"

int main(int argc, char** argv) {
  if (argc != 3) return 2;
  std::mt19937_64 random(std::stoull(argv[2]));
  std::size_t digest = 0;
  for (const char* name : {"cautious", "early-walk"}) {
    const auto loaded = profile::load_protocol(std::string(SOURCE_DIR "/profiles/protocol/") + name + ".toml");
    if (!loaded.protocol) return 2;
    for (long i = 0; i < std::stol(argv[1]); ++i) {
      campaign::Story story;
      const std::size_t length = campaign::kFixed + random() % (random() % 2 ? 24 : 5);
      for (std::size_t k = 0; k < length; ++k) {
        campaign::Deed deed{};
        for (auto& number : deed) number = static_cast<std::uint16_t>(random());
        story.deeds.push_back(deed);
      }
      const auto told = campaign::tell(story, *loaded.protocol);
      const auto plans = clinical::compute_plans(told.record, *loaded.protocol, told.now);
      std::string all = campaign::view_of(plans);
      for (std::size_t k = 0; k < plans.size(); ++k) {
        const auto wanted = clinical::wanted(plans[k], *loaded.protocol, {clinical::Intent::proposal, clinical::patient_steps_elsewhere(plans, k)});
        for (const auto& item : wanted.items) all += clinical::text_of(item.key) + item.fingerprint;
        if (plans[k].next_change) all += campaign::written(plans[k].next_change);
      }
      digest = digest * 1099511628211u + std::hash<std::string>{}(all);
    }
  }
  fmt::print("{}\n", digest);
}
