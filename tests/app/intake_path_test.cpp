#include "app/intake_path.h"

#include <gtest/gtest.h>

namespace {

using app::IntakeKind;

struct Row {
  const char* name;
  const char* method;
  const char* target;
  IntakeKind kind;
  const char* source;
  const char* type;
  const char* id;
};

class IntakePath : public testing::TestWithParam<Row> {};

TEST_P(IntakePath, IsRead) {
  const Row& row = GetParam();
  const auto path = app::intake_path(row.method, row.target);
  EXPECT_EQ(path.kind, row.kind);
  if (path.kind == IntakeKind::not_found) return;
  EXPECT_EQ(path.source, row.source);
  EXPECT_EQ(path.type, row.type);
  EXPECT_EQ(path.id, row.id);
}

INSTANTIATE_TEST_SUITE_P(
    Rows, IntakePath,
    testing::Values(Row{"bundle", "POST", "/fhir", IntakeKind::bundle, "", "", ""}, Row{"bundle_with_slash", "POST", "/fhir/", IntakeKind::bundle, "", "", ""},
                    Row{"bundle_by_put", "PUT", "/fhir", IntakeKind::bad_method, "", "", ""},
                    Row{"put", "PUT", "/fhir/Observation/o1", IntakeKind::resource, "", "Observation", "o1"},
                    Row{"put_with_query", "PUT", "/fhir/Observation/o1?_format=json", IntakeKind::resource, "", "Observation", "o1"},
                    Row{"post", "POST", "/fhir/Observation", IntakeKind::resource, "", "Observation", ""},
                    Row{"put_without_id", "PUT", "/fhir/Observation", IntakeKind::bad_method, "", "Observation", ""},
                    Row{"delete", "DELETE", "/fhir/Task/t-1", IntakeKind::resource, "", "Task", "t-1"},
                    Row{"read", "GET", "/fhir/Task/t-1", IntakeKind::bad_method, "", "Task", "t-1"},
                    Row{"lower_case_type", "PUT", "/fhir/observation/o1", IntakeKind::not_found, "", "", ""},
                    Row{"encoded_id", "PUT", "/fhir/Observation/o%201", IntakeKind::not_found, "", "", ""},
                    Row{"id_of_65", "PUT", "/fhir/Observation/aaaaaaaaaabbbbbbbbbbccccccccccddddddddddeeeeeeeeeeffffffffffggggg", IntakeKind::not_found, "", "", ""},
                    Row{"empty_hook", "POST", "/fhir/hook/ward/acts", IntakeKind::hook, "ward", "", ""},
                    Row{"hook_put", "PUT", "/fhir/hook/ward/acts/Observation/o1", IntakeKind::hook, "ward", "Observation", "o1"},
                    Row{"hook_without_name", "POST", "/fhir/hook/ward", IntakeKind::not_found, "", "", ""},
                    Row{"hook_metadata", "GET", "/fhir/hook/ward/acts/metadata", IntakeKind::metadata, "", "", ""},
                    Row{"metadata", "GET", "/fhir/metadata", IntakeKind::metadata, "", "", ""},
                    Row{"elsewhere", "GET", "/", IntakeKind::not_found, "", "", ""},
                    Row{"deeper", "PUT", "/fhir/Observation/o1/_history/1", IntakeKind::not_found, "", "", ""}),
    [](const auto& row) { return row.param.name; });

}  // namespace
