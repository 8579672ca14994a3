// What is set aside by its outline would have had no consequence if it had been read: over every official example (hl7.fhir.r4.examples 4.0.1 and
// hl7.fhir.r5.examples 5.0.0, CC0), as it is, damaged, and under the name of another type. What it costs is printed as a part of the full read.
#include "fhir_read/intake.h"
#include "fhir_read/official_texts.h"
#include "fhir_read/reading_issues.h"
#include "fhir_read/reading_support.h"
#include "json/outline.h"

#include <gtest/gtest.h>

#include <ctime>
#include <random>

namespace {

using reading_test::official;

enum class Decision { refused, set_aside, read };

Decision by_outline(const std::string& text) {
  const auto first = json::leading_type(text);
  if (fhir_read::relevant(first) || first == "Bundle") return json::parse(text).has_value() ? Decision::read : Decision::refused;
  const auto outline = json::outline(text);
  if (outline.has_error()) return Decision::refused;
  return fhir_read::relevant(outline->resource_type) || outline->resource_type == "Bundle" ? Decision::read : Decision::set_aside;
}

// What the intake and the journal did with each before: everything that could be told of it, and whose it is.
Decision by_reading(const std::string& text, const fhir_read::SiteMap& site) {
  const auto parsed = json::parse(text);
  if (parsed.has_error()) return Decision::refused;
  const auto type = (*parsed)["resourceType"].text();
  const bool told = !fhir_read::element_faults(*parsed).empty() || !fhir_read::reading_issues(*parsed, site, reading_test::terminology()).empty();
  (void)fhir_read::subject_of(*parsed);
  if (fhir_read::relevant(type) || type == "Bundle") return Decision::read;
  EXPECT_FALSE(told) << "something would have been told of a " << type;
  return Decision::set_aside;
}

TEST(Firehose, what_is_set_aside_would_have_had_no_consequence) {
  const auto texts = official(20'000);
  if (texts.empty()) GTEST_SKIP() << "the packages of examples are not installed (tests/peer/install)";
  const auto site = reading_test::default_site();
  std::minstd_rand random(11);
  static const char* types[] = {"Observation", "Group", "Goal", "Task", "Bundle", "Account", "observation", "", "Patient"};
  int count[3] = {};
  for (const auto& text : texts) {
    std::vector<std::string> forms{text};
    for (int round = 0; round < 2; ++round) {
      auto damaged = text;
      damaged[random() % damaged.size()] = static_cast<char>(random() % 256);
      forms.push_back(std::move(damaged));
    }
    auto renamed = text;
    if (const auto at = renamed.find("\"resourceType\""); at != std::string::npos) {
      renamed.insert(at, std::string("\"resourceType\":\"") + types[random() % std::size(types)] + "\",");
      forms.push_back(std::move(renamed));
    }
    for (const auto& form : forms) {
      const auto decision = by_outline(form);
      ASSERT_EQ(decision, by_reading(form, site)) << form.substr(0, 300);
      ++count[static_cast<int>(decision)];
    }
  }
  std::printf("%d refused, %d set aside, %d read\n", count[0], count[1], count[2]);
  for (const int n : count) EXPECT_GT(n, 1000);
}

TEST(Firehose, setting_aside_costs_a_part_of_reading) {
  const auto all = official(20'000);
  std::vector<std::string> texts;
  for (const auto& text : all)
    if (by_outline(text) == Decision::set_aside) texts.push_back(text);
  if (texts.empty()) GTEST_SKIP() << "the packages of examples are not installed (tests/peer/install)";
  const auto site = reading_test::default_site();
  const auto seconds = [&](auto decide) {
    double best = 1e9;
    for (int round = 0; round < 3; ++round) {
      const auto from = std::clock();
      for (const auto& text : texts) decide(text);
      best = std::min(best, static_cast<double>(std::clock() - from) / CLOCKS_PER_SEC);
    }
    return best;
  };
  const double aside = seconds([](const std::string& text) { (void)by_outline(text); });
  // The journal parsed each a second time.
  const double whole = seconds([&](const std::string& text) {
    (void)by_reading(text, site);
    (void)json::parse(text).has_value();
  });
  std::printf("set aside in %.2f of the time that reading took, %zu resources, %.1f us each\n", aside / whole, texts.size(), 1e6 * aside / static_cast<double>(texts.size()));
  EXPECT_LT(aside, whole);
}

}  // namespace
