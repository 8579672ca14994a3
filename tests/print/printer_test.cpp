// Against a printer of the distribution (ippeveprinter, CUPS 2.4): what arrives is what was sent, and what is known after each way to fail.
#include "print/printer.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <chrono>
#include <cstdlib>
#include <fstream>
#include <functional>
#include <thread>

#include "print/printer_support.h"

namespace {

using namespace std::chrono_literals;
using print::JobState;
using print::Known;
using print::Patience;
using print::Trouble;
using print_test::small_pdf;
using print_test::TestPrinter;
using testing::Contains;
using testing::ElementsAre;

const Patience kPatience{2s, 2s};
const std::string kA4 = print::media_named("A4");

bool within(std::chrono::milliseconds limit, const std::function<bool()>& done) {
  const auto end = std::chrono::steady_clock::now() + limit;
  while (!done()) {
    if (std::chrono::steady_clock::now() > end) return false;
    std::this_thread::sleep_for(20ms);
  }
  return true;
}

int must_submit(const TestPrinter& printer, const std::string& name, const std::string& pdf) {
  const auto state = print::ask(printer.uri(), kPatience);
  EXPECT_TRUE(state.has_value());
  const auto id = print::submit(printer.uri(), {name, kA4}, pdf, state.has_value() ? *state : print::PrinterState{}, kPatience);
  EXPECT_TRUE(id.has_value()) << (id.has_error() ? id.error().text : "");
  return id.has_value() ? *id : 0;
}

std::optional<print::Job> job(const TestPrinter& printer, int id) {
  const auto seen = print::look(printer.uri(), id, kPatience);
  EXPECT_TRUE(seen.has_value()) << (seen.has_error() ? seen.error().text : "");
  return seen.has_value() ? *seen : std::nullopt;
}

Trouble told_by(const TestPrinter& printer) {
  const auto state = print::ask(printer.uri(), kPatience);
  return state.has_value() ? print::trouble_in(state->reasons) : Trouble::no_answer;
}

TEST(Printer, TakesTheBytesAsTheyAreAndCompletes) {
  const TestPrinter printer("well");
  const auto state = print::ask(printer.uri(), kPatience);
  ASSERT_TRUE(state.has_value());
  EXPECT_THAT(state->formats, Contains("application/pdf"));
  EXPECT_THAT(state->media, Contains(kA4));
  EXPECT_THAT(state->media_ready, Contains(kA4));
  EXPECT_EQ(print::before_sending(*state, kA4), Trouble::none);
  const std::string pdf = small_pdf("sheet one, invented");
  const int id = must_submit(printer, "sheet-1-abc", pdf);
  ASSERT_TRUE(within(10s, [&] { return job(printer, id)->state == JobState::completed; }));
  ASSERT_THAT(printer.tray(), ElementsAre(pdf));
  const std::string copy = testing::TempDir() + "from-the-tray.pdf";
  std::ofstream(copy, std::ios::binary) << printer.tray().front();
  EXPECT_EQ(std::system(("qpdf --check '" + copy + "' >/dev/null").c_str()), 0);
}

TEST(Printer, FindsAJobByItsNameWhetherItHasEndedOrNot) {
  TestPrinter printer("find");
  must_submit(printer, "sheet-1-abc", small_pdf("one"));
  ASSERT_TRUE(within(10s, [&] { return printer.tray().size() == 1; }));
  printer.mood("jam");
  const int waiting = must_submit(printer, "sheet-2-def", small_pdf("two"));
  const auto first = print::find(printer.uri(), "sheet-1-abc", kPatience), second = print::find(printer.uri(), "sheet-2-def", kPatience),
             third = print::find(printer.uri(), "sheet-3-ghi", kPatience);
  ASSERT_TRUE(first.has_value() && second.has_value() && third.has_value());
  ASSERT_TRUE(first->job && second->job);
  EXPECT_TRUE(print::ended(first->job->state));
  EXPECT_EQ(second->job->id, waiting);
  EXPECT_FALSE(print::ended(second->job->state));
  EXPECT_FALSE(third->job);
  EXPECT_EQ(third->others.size(), 2U);
  EXPECT_TRUE(print::surely_absent(*third, 0s));
  EXPECT_FALSE(print::surely_absent(*second, 0s));
  EXPECT_FALSE(print::surely_absent(*third, 3600s)) << "the printer has started anew since";
  printer.mood("well");
}

TEST(Printer, SaysThatItIsOutOfPaperAndGoesOnWhenThereIsSome) {
  TestPrinter printer("empty");
  printer.paper(kA4, 0);
  const int id = must_submit(printer, "sheet-1", small_pdf("one"));
  ASSERT_TRUE(within(5s, [&] { return told_by(printer) == Trouble::no_paper; }));
  EXPECT_FALSE(print::ended(job(printer, id)->state));
  EXPECT_TRUE(printer.tray().empty());
  printer.paper(kA4, 250);
  EXPECT_TRUE(within(10s, [&] { return job(printer, id)->state == JobState::completed; }));
  EXPECT_EQ(printer.tray().size(), 1U);
}

TEST(Printer, SaysThatItIsJammedAndAJobTakenBackDoesNotComeOut) {
  TestPrinter printer("jam");
  printer.mood("jam");
  const int id = must_submit(printer, "sheet-1", small_pdf("one"));
  ASSERT_TRUE(within(5s, [&] { return told_by(printer) == Trouble::jam; }));
  const auto taken = print::cancel(printer.uri(), id, kPatience);
  ASSERT_TRUE(taken.has_value()) << taken.error().text;
  printer.mood("well");
  ASSERT_TRUE(within(5s, [&] { return job(printer, id)->state == JobState::cancelled; }));
  EXPECT_TRUE(printer.tray().empty());
  const auto again = print::cancel(printer.uri(), id, kPatience);
  ASSERT_TRUE(again.has_error());
  EXPECT_TRUE(again.error().answered);
}

TEST(Printer, AJobThatThePrinterGaveUpIsToldAsAborted) {
  TestPrinter printer("abort");
  printer.mood("abort");
  const int id = must_submit(printer, "sheet-1", small_pdf("one"));
  EXPECT_TRUE(within(5s, [&] { return job(printer, id)->state == JobState::aborted; }));
  EXPECT_TRUE(printer.tray().empty());
}

TEST(Printer, OtherPaperInTheTrayIsSeenBeforeAnythingIsSent) {
  TestPrinter printer("letter");
  printer.paper(print::media_named("Letter"), 250);
  const auto state = print::ask(printer.uri(), kPatience);
  ASSERT_TRUE(state.has_value());
  EXPECT_EQ(print::before_sending(*state, kA4), Trouble::wrong_paper);
  EXPECT_EQ(print::before_sending(*state, print::media_named("Letter")), Trouble::none);
  EXPECT_EQ(print::before_sending(*state, print::media_named("A5")), Trouble::wrong_paper);
  const auto refused = print::submit(printer.uri(), {"sheet-1", print::media_named("A5")}, small_pdf("one"), *state, kPatience);
  ASSERT_TRUE(refused.has_error());
  EXPECT_EQ(refused.error().known, Known::not_sent);
  EXPECT_TRUE(refused.error().answered);
}

TEST(Printer, WhatIsOffIsNotSentToAndWhatIsSilentLeavesItOpen) {
  TestPrinter printer("off");
  const auto state = print::ask(printer.uri(), kPatience);
  ASSERT_TRUE(state.has_value());
  printer.stop();
  const auto off = print::submit(printer.uri(), {"sheet-1", kA4}, small_pdf("one"), *state, kPatience);
  ASSERT_TRUE(off.has_error());
  EXPECT_EQ(off.error().known, Known::not_sent);
  EXPECT_FALSE(off.error().answered);
  printer.start();
  printer.freeze();
  const auto begun = std::chrono::steady_clock::now();
  const auto silent = print::submit(printer.uri(), {"sheet-2", kA4}, small_pdf("two"), *state, {1s, 1s});
  EXPECT_LT(std::chrono::steady_clock::now() - begun, 5s);
  ASSERT_TRUE(silent.has_error());
  EXPECT_EQ(silent.error().known, Known::unknown);
  printer.thaw();
}

TEST(Printer, TakesTheSameEncrypted) {
  const TestPrinter printer("tls");
  const std::string uri = "ipps" + printer.uri().substr(3);
  const auto state = print::ask(uri, {10s, 10s});
  ASSERT_TRUE(state.has_value()) << state.error().text;
  const std::string pdf = small_pdf("encrypted");
  const auto id = print::submit(uri, {"sheet-1", kA4}, pdf, *state, {10s, 10s});
  ASSERT_TRUE(id.has_value()) << id.error().text;
  EXPECT_TRUE(within(10s, [&] { return printer.tray().size() == 1; }));
  EXPECT_THAT(printer.tray(), ElementsAre(pdf));
}

TEST(Printer, AJobItDoesNotHaveIsNone) {
  const TestPrinter printer("none");
  EXPECT_FALSE(job(printer, 77));
  const auto nowhere = print::ask("http://localhost/ipp", kPatience);
  ASSERT_TRUE(nowhere.has_error());
  EXPECT_EQ(nowhere.error().known, Known::not_sent);
}

// Severities: RFC 8011 5.4.12: a report does not stop the printer, a warning may later, an error does; without a suffix: error.
TEST(Trouble, IsWhatAPersonAtThePrinterCanPutRight) {
  using Words = std::vector<std::string>;
  EXPECT_EQ(print::trouble_in(Words{}), Trouble::none);
  EXPECT_EQ(print::trouble_in(Words{"media-low-report"}), Trouble::none);
  EXPECT_EQ(print::trouble_in(Words{"media-empty-warning", "media-needed-warning"}), Trouble::no_paper);
  EXPECT_EQ(print::trouble_in(Words{"paused", "media-jam"}), Trouble::jam);
  EXPECT_EQ(print::trouble_in(Words{"door-open-error"}), Trouble::cover_open);
  EXPECT_EQ(print::trouble_in(Words{"toner-empty-error"}), Trouble::no_ink);
  EXPECT_EQ(print::trouble_in(Words{"marker-supply-low-report"}), Trouble::none);
  print::PrinterState state;
  state.formats = {"application/pdf"};
  state.reasons = {"media-empty-report"};  // another tray
  EXPECT_EQ(print::before_sending(state, kA4), Trouble::none);
  state.reasons = {"media-empty"};
  EXPECT_EQ(print::before_sending(state, kA4), Trouble::no_paper);
  state.reasons = {"media-empty-warning"};
  state.stopped = true;
  EXPECT_EQ(print::before_sending(state, kA4), Trouble::no_paper);
  state.reasons.clear();
  EXPECT_EQ(print::before_sending(state, kA4), Trouble::stopped);
  state.stopped = false;
  state.accepting = false;
  EXPECT_EQ(print::before_sending(state, kA4), Trouble::refuses);
  state.formats = {"image/pwg-raster"};
  state.accepting = true;
  EXPECT_EQ(print::before_sending(state, kA4), Trouble::refuses);
}

TEST(Search, ProvesNothingWhereThePrinterMayHaveForgotten) {
  print::Search search;
  search.up_seconds = 10'000;
  EXPECT_TRUE(print::surely_absent(search, 60s));
  EXPECT_FALSE(print::surely_absent(search, 61s)) << "nothing says how far back it remembers";
  search.others.push_back({7, "other", JobState::completed, {}, 9'000, 9'010});
  EXPECT_FALSE(print::surely_absent(search, 999s)) << "that one ended after ours was sent";
  EXPECT_TRUE(print::surely_absent(search, 900s)) << "one that ended before ours was sent is still listed";
  search.keeps_seconds = 0;
  EXPECT_FALSE(print::surely_absent(search, 5000s));
  search.others.push_back({8, "", JobState::completed, {}, 9'500, 9'510});
  EXPECT_FALSE(print::surely_absent(search, 10s)) << "ours may be the one without a name";
  search.up_seconds = 5;
  search.others.clear();
  search.keeps_seconds.reset();
  EXPECT_FALSE(print::surely_absent(search, 6s)) << "it has started anew since";
}

}  // namespace
