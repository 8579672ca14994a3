// A single write that is refused because another version stands: whose it is decides, and a page of a proxy tells nothing. The record's answers are invented.
#include <gtest/gtest.h>

#include <deque>

#include "app/simulated_record_support.h"
#include "app/step_writer.h"

namespace {

using app::StepsEnd;

const std::string kTask = R"({"resourceType":"Task","id":"7","identifier":[{"system":"https://aftersheath.example/fhir/NamingSystem/item","value":"11111111-2222-4333-8444-555555555555"}],
  "status":"requested","intent":"order","description":"look at the groin"})";

struct Answers final : transport::Network {
  void send(transport::OutgoingRequest request, std::function<void(transport::Outcome)> done) override {
    log.push_back(request.method + " " + request.url);
    transport::Response answer = answers.front();
    answers.pop_front();
    done(std::move(answer));
  }
  std::deque<transport::Response> answers;
  std::vector<std::string> log;
};

class RefusedAgain : public testing::Test {
 protected:
  StepsEnd write(std::int64_t attempts, std::deque<transport::Response> answers) {
    network.answers = std::move(answers);
    store::Write row;
    row.case_key = "|Procedure/p";
    row.attempts = attempts;
    row.body = R"({"resourceType":"Bundle","type":"transaction","entry":[{"resource":)" + kTask + R"(,"request":{"method":"PUT","url":"Task/7","ifMatch":"W/\"1\""}}]})";
    StepsEnd end;
    app::StepWriter writer(executor, network, "http://record.example/fhir", std::chrono::seconds{1});
    writer.write(row, {}, [&end](StepsEnd ended) { end = std::move(ended); });
    while (executor.step()) {}
    return end;
  }
  static transport::Response as_it_stands(const std::string& words, const std::string& version) {
    json::Value task = *json::parse(kTask);
    task.set("description", words);
    task.set("meta", json::Value::object({{"versionId", version}}));
    return {200, {{"ETag", "W/\"" + version + "\""}}, json::write(task)};
  }
  app_test::StepExecutor executor;
  Answers network;
};

TEST_F(RefusedAgain, IsDoneWhereTheFirstAttemptPutItThere) {
  const auto end = write(1, {{412, {}, ""}, as_it_stands("look at the groin", "2")});
  EXPECT_EQ(end.kind, StepsEnd::Kind::done) << end.why;
}

TEST_F(RefusedAgain, IsSomebodyElsesTurnWhereOtherWordsStand) {
  EXPECT_EQ(write(1, {{412, {}, ""}, as_it_stands("mine", "2")}).kind, StepsEnd::Kind::conflict);
  EXPECT_EQ(write(1, {{412, {}, ""}, {410, {}, ""}}).kind, StepsEnd::Kind::conflict) << "gone";
  EXPECT_EQ(write(0, {{412, {}, ""}}).kind, StepsEnd::Kind::conflict) << "sent for the first time";
}

TEST_F(RefusedAgain, WaitsWhereAProxyAnswersForTheRecord) {
  for (const char* page : {"<!doctype html><html></html>", "", R"({"resourceType":"OperationOutcome"})", "[]"}) {
    const auto end = write(1, {{412, {}, ""}, {200, {}, page}});
    EXPECT_EQ(end.kind, StepsEnd::Kind::put_off) << page;
    EXPECT_TRUE(end.changed) << "the first attempt may have had an effect";
  }
}

}  // namespace
