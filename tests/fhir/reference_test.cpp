#include "fhir/reference.h"

#include <gtest/gtest.h>

#include <ostream>

namespace {

using fhir::ReferenceKind;

struct Row {
  const char* name;
  const char* text;
  ReferenceKind kind;
  const char* key;
  const char* version;
};
void PrintTo(const Row& row, std::ostream* os) { *os << row.name; }
class References : public testing::TestWithParam<Row> {};

TEST_P(References, are_told_apart) {
  const auto r = fhir::parse_reference(GetParam().text, "https://one.example/fhir/");
  EXPECT_EQ(r.kind, GetParam().kind);
  EXPECT_EQ(r.key(), GetParam().key);
  EXPECT_EQ(r.version, GetParam().version);
  EXPECT_EQ(r.written, GetParam().text);
}

// FHIR R4, references: relative, absolute, version specific, contained, urn. The same tail on another server is another resource
// (official example Bundle/bundle-references).
INSTANTIATE_TEST_SUITE_P(
    table, References,
    testing::Values(Row{"relative", "Patient/a", ReferenceKind::relative, "Patient/a", ""},
                    Row{"versioned", "Patient/a/_history/3", ReferenceKind::relative, "Patient/a", "3"},
                    Row{"absolute_here", "https://one.example/fhir/Patient/a", ReferenceKind::relative, "Patient/a", ""},
                    Row{"absolute_here_versioned", "https://one.example/fhir/Patient/a/_history/3", ReferenceKind::relative, "Patient/a", "3"},
                    Row{"absolute_elsewhere", "https://two.example/fhir/Patient/a", ReferenceKind::absolute, "", ""},
                    Row{"other_path_of_the_same_host", "https://one.example/fhir-2/Patient/a", ReferenceKind::absolute, "", ""},
                    Row{"contained", "#m", ReferenceKind::contained, "", ""},
                    Row{"uuid", "urn:uuid:0c3151bd-1cbf-4d64-b04d-cd9187a4c6e0", ReferenceKind::uuid, "", ""},
                    Row{"conditional", "Patient?identifier=1", ReferenceKind::none, "", ""}, Row{"no_type", "patient/a", ReferenceKind::none, "", ""},
                    Row{"bad_id", "Patient/a b", ReferenceKind::none, "", ""}, Row{"too_long", "Patient/aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa", ReferenceKind::none, "", ""},
                    Row{"nothing", "", ReferenceKind::none, "", ""}),
    [](const auto& row) { return row.param.name; });

TEST(References, logical_and_display_only) {
  const auto logical = fhir::read_reference(*json::parse(R"({"identifier":{"system":"urn:x","value":"7"},"display":"d"})"));
  EXPECT_EQ(logical.kind, ReferenceKind::identifier_only);
  EXPECT_EQ(logical.identifier_value, "7");
  EXPECT_EQ(fhir::read_reference(*json::parse(R"({"display":"d"})")).kind, ReferenceKind::display_only);
  EXPECT_EQ(fhir::read_reference(json::Value()).kind, ReferenceKind::none);
}

}  // namespace
