#include "fhir_write/transaction.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <set>

#include "fhir/codes.h"
#include "fhir_write/example_write.h"
#include "fhir_write/identity.h"
#include "fhir_write/verify.h"

namespace {

using namespace clinical;
using example::at;
using example::History;
using fhir_write::Form;
using testing::HasSubstr;

std::vector<const json::Value*> resources_of(const json::Value& bundle, std::string_view type) {
  std::vector<const json::Value*> found;
  for (const auto& entry : bundle["entry"].items())
    if (entry["resource"]["resourceType"].text() == type) found.push_back(&entry["resource"]);
  return found;
}
const json::Value* task_of(const json::Value& bundle, std::string_view step, std::string_view code_system = fhir::system_uri::aftercare_step) {
  for (const auto* task : resources_of(bundle, "Task"))
    if ((*task)["code"]["coding"].at(0)["code"].text() == step && (*task)["code"]["coding"].at(0)["system"].text() == code_system) return task;
  return nullptr;
}

TEST(FileForm, EveryItemIsPutUnderItsOwnUuid) {
  History history(Form::file);
  const auto bundle = history.write(example::sheath_in(), at(15)).bundle;
  std::set<std::string> ids;
  for (const auto& entry : bundle["entry"].items()) {
    const std::string id(entry["resource"]["id"].text()), type(entry["resource"]["resourceType"].text());
    EXPECT_EQ(entry["request"]["method"].text(), "PUT");
    EXPECT_EQ(entry["request"]["url"].text(), type + "/" + id);
    EXPECT_FALSE(entry["request"].has("ifMatch"));
    EXPECT_TRUE(ids.insert(id).second);
    EXPECT_EQ(fhir_write::own_identity(entry["resource"]).value_or(id), id);
  }
  EXPECT_EQ(resources_of(bundle, "Binary").size(), 1u);
  const auto& attachment = (*resources_of(bundle, "DocumentReference").at(0))["content"].at(0)["attachment"];
  EXPECT_EQ(attachment["url"].text(), "Binary/" + std::string((*resources_of(bundle, "Binary").at(0))["id"].text()));
  // base64 SHA-1 of the bytes, as Attachment.hash wants it: `printf %s %PDF-invented | openssl sha1 -binary | base64`
  EXPECT_EQ(attachment["hash"].text(), "2X8tR3n0ZHJ1yG3492glbplh7BM=");
}

TEST(FileForm, SameArgumentsSameBytes) {
  History a(Form::file), b(Form::file);
  EXPECT_EQ(json::write(a.write(example::sheath_in(), at(15)).bundle), json::write(b.write(example::sheath_in(), at(15)).bundle));
}

TEST(Task, AsTheContractSays) {
  History history(Form::file);
  const auto bundle = history.write(example::sheath_in(), at(15)).bundle;
  ASSERT_GE(resources_of(bundle, "Task").size(), 3u);
  for (const auto* task : resources_of(bundle, "Task")) {
    const auto& t = *task;
    EXPECT_EQ(t["code"]["coding"].at(0)["system"].text(), fhir::system_uri::aftercare_step);
    EXPECT_EQ(t["code"]["coding"].at(1)["code"].text(), "fulfill");
    EXPECT_TRUE(t["code"]["text"].text().starts_with("RIGHT groin")) << t["code"]["text"].text();
    EXPECT_EQ(t["status"].text(), "requested");
    EXPECT_EQ(t["intent"].text(), "proposal");
    EXPECT_TRUE(t["restriction"]["period"].has("start"));
    EXPECT_FALSE(t.has("executionPeriod"));
    EXPECT_TRUE(t["focus"]["reference"].text().starts_with("CarePlan/"));
    EXPECT_EQ(t["reasonReference"]["reference"].text(), "Procedure/p1");
    EXPECT_EQ(t["for"]["reference"].text(), "Patient/a");
    EXPECT_EQ(t["encounter"]["reference"].text(), "Encounter/e");
    EXPECT_EQ(t["requester"]["identifier"]["value"].text(), "test-1");
    EXPECT_EQ(t["input"].at(0)["type"]["coding"].at(0)["code"].text(), "access-site");
    EXPECT_EQ(t["input"].at(0)["valueCodeableConcept"]["coding"].at(0)["code"].text(), "69833005");  // right femoral artery, SNOMED CT
    EXPECT_EQ(t["input"].at(1)["valueDateTime"].text(), "2026-03-02T17:00:00Z");
    EXPECT_EQ(t["meta"]["security"].at(0)["code"].text(), "HTEST");
    EXPECT_EQ(fhir_write::written_by(t), "test-1");
    EXPECT_THAT(std::string(t["description"].text()), HasSubstr("TEST DATA"));
  }
  EXPECT_EQ((*task_of(bundle, "draw-coagulation"))["priority"].text(), "urgent");
  EXPECT_EQ((*task_of(bundle, "check-site"))["priority"].text(), "routine");
  EXPECT_EQ((*task_of(bundle, "check-site"))["restriction"]["period"]["end"].text(), "2026-03-02T15:30:00Z");
  EXPECT_THAT(std::string((*task_of(bundle, "provide-missing"))["description"].text()), HasSubstr("holds up: remove the sheath"));
}

TEST(CarePlan, PointsToTheTasksAndTellsTheWholeTimetable) {
  History history(Form::file);
  const auto bundle = history.write(example::sheath_in(), at(15)).bundle;
  const auto& plan = *resources_of(bundle, "CarePlan").at(0);
  EXPECT_EQ(plan["activity"].size(), resources_of(bundle, "Task").size());
  EXPECT_EQ(plan["supportingInfo"].at(0)["reference"].text(), "Procedure/p1");
  EXPECT_EQ(plan["period"]["end"].text(), "2026-03-02T17:00:00Z");
  EXPECT_EQ(plan["status"].text(), "active");
  const std::string text(plan["text"]["div"].text());
  for (const char* part : {"Proposal - protocol not approved", "TEST DATA", "<h1>MISSING", "remove the sheath", "stand and walk", "6 h after haemostasis", "never a permission"})
    EXPECT_THAT(text, HasSubstr(part));
}

TEST(Provenance, NamesInputsWithVersionsAndTheProtocolsHash) {
  History history(Form::file);
  const auto bundle = history.write(example::sheath_in(), at(15)).bundle;
  const auto& p = *resources_of(bundle, "Provenance").at(0);
  EXPECT_EQ(p["policy"].at(0)["system"].text(), "");
  EXPECT_EQ(p["policy"].at(0).text(), "https://aftersheath.example/fhir/PlanDefinition/cautious|1.0.0");
  EXPECT_EQ(p["policy"].at(1).text(), "urn:sha256:" + std::string(64, 'a'));
  std::set<std::string> displays;
  for (const auto& entity : p["entity"].items()) displays.insert(std::string(entity["what"]["display"].text()));
  EXPECT_TRUE(displays.contains("Observation/act1/_history/1"));
  EXPECT_TRUE(displays.contains("Patient/a/_history/3"));
  EXPECT_EQ(p["activity"]["coding"].at(0)["code"].text(), "CREATE");
  EXPECT_EQ((*resources_of(history.write(example::resting(), at(16)).bundle, "Provenance").at(0))["activity"]["coding"].at(0)["code"].text(), "UPDATE");
}

TEST(GuidanceResponse, AsksForWhatIsMissing) {
  History history(Form::file);
  const auto bundle = history.write(example::sheath_in(), at(15)).bundle;
  const auto& missing = *resources_of(bundle, "GuidanceResponse").at(0);
  EXPECT_EQ(missing["status"].text(), "data-required");
  EXPECT_EQ(missing["contained"].at(0)["issue"].at(0)["code"].text(), "required");
  EXPECT_EQ(missing["moduleCanonical"].text(), "https://aftersheath.example/fhir/PlanDefinition/cautious|1.0.0");
  const auto complete = history.write(example::resting(), at(16)).bundle;
  EXPECT_EQ((*resources_of(complete, "GuidanceResponse").at(0))["status"].text(), "success");
}

TEST(FileForm, ARebleedCancelsAndSupersedes) {
  History history(Form::file);
  history.write(example::nearly_up(), at(16));
  const auto bundle = history.write(example::rebleed(), at(18)).bundle;
  EXPECT_EQ((*task_of(bundle, "stand-and-walk"))["status"].text(), "cancelled");
  EXPECT_FALSE((*task_of(bundle, "stand-and-walk"))["statusReason"]["text"].text().empty());
  EXPECT_EQ((*task_of(bundle, "stand-and-walk"))["authoredOn"].text(), "2026-03-02T16:00:00Z");
  EXPECT_EQ((*task_of(bundle, "call-clinician"))["priority"].text(), "urgent");
  const auto documents = resources_of(bundle, "DocumentReference");
  ASSERT_EQ(documents.size(), 2u);
  EXPECT_EQ((*documents[0])["status"].text(), "superseded");
  EXPECT_EQ((*documents[1])["status"].text(), "current");
  EXPECT_EQ((*documents[1])["relatesTo"].at(0)["target"]["reference"].text(), "DocumentReference/" + std::string((*documents[0])["id"].text()));
}

TEST(RecordForm, FenceFirstThenPostsAndGuardedPuts) {
  History history(Form::record);
  const auto first = history.write(example::nearly_up(), at(16)).bundle;
  const auto& fence = first["entry"].at(0);
  EXPECT_EQ(fence["request"]["method"].text(), "PUT");
  EXPECT_TRUE(fence["request"]["url"].text().starts_with("CarePlan/srv-"));
  EXPECT_FALSE(fence["request"]["ifMatch"].text().empty());
  for (std::size_t i = 1; i < first["entry"].size(); ++i) {
    EXPECT_EQ(first["entry"].at(i)["request"]["method"].text(), "POST");
    EXPECT_TRUE(first["entry"].at(i)["fullUrl"].text().starts_with("urn:uuid:"));
  }
  const auto second = history.write(example::rebleed(), at(18)).bundle;
  EXPECT_EQ(second["entry"].at(0)["resource"]["resourceType"].text(), "CarePlan");
  for (const auto& entry : second["entry"].items()) {
    const bool put = entry["request"]["method"].text() == "PUT";
    EXPECT_EQ(put, entry["request"].has("ifMatch"));
    const auto address = std::string(entry["resource"]["resourceType"].text()) + "/" + std::string(entry["resource"]["id"].text());
    EXPECT_EQ(entry["request"]["url"].text() == address, put);
  }
  const auto& superseded = *resources_of(second, "DocumentReference").at(0);
  EXPECT_EQ(superseded["status"].text(), "superseded");
  EXPECT_TRUE(superseded["content"].at(0)["attachment"]["url"].text().starts_with("Binary/srv-"));
  EXPECT_TRUE(superseded["masterIdentifier"]["value"].text().starts_with("urn:uuid:"));
  EXPECT_TRUE((*task_of(second, "stand-and-walk"))["focus"]["reference"].text().starts_with("CarePlan/srv-"));
}

TEST(RecordForm, ARequestToStopNamesItsTaskForAsLongAsItStands) {
  History history(Form::record);
  history.write(example::nearly_up(), at(16));
  for (auto& one : history.standing)
    if (one.key.step == Step::stand_and_walk) one.state = Stands::claimed, one.claimed_by = "Nurse on duty (invented)";
  const auto first = history.write(example::rebleed(), at(18)).bundle;
  const auto* stop = task_of(first, "abort", "http://hl7.org/fhir/CodeSystem/task-code");
  ASSERT_TRUE(stop);
  const std::string named((*stop)["focus"]["reference"].text());
  ASSERT_TRUE(named.starts_with("Task/srv-")) << named;
  Difference again;
  for (const auto& one : history.standing)
    if (one.key.kind == ItemKind::cancellation) {
      Item item;
      item.key = one.key;
      item.why = Reason{"change.withdrawn.done", {}};
      again.changes.push_back({ChangeKind::update, one.key, item, std::nullopt, {}});
    }
  const auto second = fhir_write::transaction(history.context(at(19)), {example::rebleed(), again, history.standing, nullptr}).bundle;
  stop = task_of(second, "abort", "http://hl7.org/fhir/CodeSystem/task-code");
  ASSERT_TRUE(stop);
  EXPECT_EQ((*stop)["focus"]["reference"].text(), named);
}

TEST(RecordForm, AFenceEvenWhereTheCarePlanStays) {
  History history(Form::record);
  history.write(example::nearly_up(), at(16));
  Difference nothing;
  const auto written = fhir_write::transaction(history.context(at(17)), {example::nearly_up(), nothing, history.standing, nullptr});
  ASSERT_EQ(written.bundle["entry"].size(), 2u);
  EXPECT_EQ(written.bundle["entry"].at(0)["request"]["method"].text(), "PUT");
}

TEST(RecordForm, AClaimedTaskIsAskedToStopAndIsNotWritten) {
  History history(Form::record);
  history.write(example::nearly_up(), at(16));
  const auto stand = std::ranges::find(history.standing, std::optional(Step::stand_and_walk), [](const Standing& s) { return s.key.step; });
  stand->state = Stands::claimed;
  stand->claimed_by = "Nurse N.";
  const std::string claimed = "Task/" + history.server.at(stand->key).id;
  const auto bundle = history.write(example::rebleed(), at(18)).bundle;
  EXPECT_EQ(task_of(bundle, "stand-and-walk"), nullptr);
  const auto* stop = task_of(bundle, "abort", fhir::system_uri::task_code);
  ASSERT_NE(stop, nullptr);
  EXPECT_EQ((*stop)["focus"]["reference"].text(), claimed);
  EXPECT_FALSE(stop->has("restriction"));
  EXPECT_THAT(json::write(bundle), HasSubstr("since Nurse N. took on"));
}

TEST(RecordForm, WithoutAShellItIsAnError) {
  History history(Form::record);
  const auto plan = example::sheath_in();
  const auto d = difference(wanted(plan, example::protocol(), {}), {}, at(15));
  const auto after = applied(d, {});
  EXPECT_THROW(fhir_write::transaction(history.context(at(15)), {plan, d, after, &example::sheet()}), std::logic_error);
}

TEST(RecordForm, Shell) {
  History history(Form::record);
  const auto shell = fhir_write::shell(history.context(at(15)), example::sheath_in(), fhir_write::care_plan_key(Intent::proposal));
  EXPECT_EQ(shell.resource["status"].text(), "draft");
  EXPECT_FALSE(shell.resource.has("activity"));
  EXPECT_EQ(shell.if_none_exist, "identifier=https://aftersheath.example/fhir/NamingSystem/item%7C" + shell.identity);
  EXPECT_EQ(fhir_write::own_identity(shell.resource), shell.identity);
}

// Never due time, protocol version or patient: an upgrade or a merge of patients must not make a second plan.
TEST(Identity, WhatItRestsOn) {
  History history(Form::file);
  auto plan = example::resting();
  const auto key = fhir_write::care_plan_key(Intent::proposal);
  const auto context = history.context(at(15));
  const auto before = fhir_write::identity(context, plan, key);
  plan.patient.source.reference = "Patient/other";
  plan.procedure.reference = "Procedure/renamed";
  EXPECT_EQ(fhir_write::identity(context, plan, key), before);
  auto other_intent = key;
  other_intent.intent = Intent::plan;
  EXPECT_NE(fhir_write::identity(context, plan, other_intent), before);
  plan.procedure_identifier = "";
  EXPECT_NE(fhir_write::identity(context, plan, key), before);
  auto kept = history.context(at(15));
  kept.case_identity = "urn:example:procedures|p1";
  EXPECT_EQ(fhir_write::identity(kept, plan, key), before);
}

TEST(Verify, PlacesEntriesByTheServersAnswer) {
  History history(Form::record);
  const auto request = history.write(example::sheath_in(), at(15)).bundle;
  auto answer = History::answer_to(request, 7);
  const auto placed = fhir_write::placed(request, answer);
  ASSERT_TRUE(placed.has_value()) << placed.error();
  EXPECT_EQ(placed->size(), request["entry"].size());
  EXPECT_EQ(placed->at(1).status, 201);
  EXPECT_EQ(placed->at(1).etag, "W/\"7\"");
  EXPECT_EQ(placed->at(1).identity, fhir_write::own_identity(request["entry"].at(1)["resource"]).value_or(""));
  // In the order in which a server works, a place named twice, another resource shown: nothing is known of any of them.
  const auto spoiled = [&](auto how) {
    auto other = answer;
    how(other.find("entry")->items());
    return fhir_write::placed(request, other);
  };
  EXPECT_TRUE(spoiled([](auto entries) { std::swap(entries[0], entries[entries.size() - 1]); }).has_error());
  EXPECT_TRUE(spoiled([](auto entries) { entries[1] = entries[2]; }).has_error());
  EXPECT_TRUE(spoiled([&](auto entries) { entries[1].set("resource", request["entry"].at(2)["resource"]); }).has_error());
  EXPECT_TRUE(spoiled([&](auto entries) { entries[1].set("resource", request["entry"].at(1)["resource"]); }).has_value());
  EXPECT_TRUE(spoiled([](auto entries) { entries[0].find("response")->set("location", "CarePlan/another/_history/7"); }).has_error());
  answer.find("entry")->items()[2].find("response")->set("status", "412 Precondition Failed");
  EXPECT_TRUE(fhir_write::placed(request, answer).has_error());
  answer.set("type", "batch-response");
  EXPECT_TRUE(fhir_write::placed(request, answer).has_error());
}

// Runs last of this file: every sentence that was asked for exists.
TEST(RecordWords, NothingWasMissing) {
  for (const auto& name : example::not_found()) EXPECT_TRUE(name.starts_with("term gate.") || name.starts_with("term fact.")) << name;
}

}  // namespace
