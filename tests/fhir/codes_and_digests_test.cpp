#include "fhir/codes.h"
#include "fhir/digest.h"
#include "fhir/uuid.h"

#include <gtest/gtest.h>

namespace {

TEST(Codes, spellings_of_a_system) {  // HL7 Terminology NamingSystem resources
  for (const auto* loinc : {"http://loinc.org", "https://loinc.org", "http://loinc.org/", "urn:oid:2.16.840.1.113883.6.1", "2.16.840.1.113883.6.1"}) {
    EXPECT_EQ(fhir::canonical_system(loinc), "http://loinc.org") << loinc;
  }
  EXPECT_EQ(fhir::canonical_system("http://fhir.de/CodeSystem/bfarm/atc"), "http://www.whocc.no/atc");
  EXPECT_EQ(fhir::canonical_system("https://hospital.example/codes/"), "https://hospital.example/codes/");
  EXPECT_EQ(fhir::canonical_system(""), "");
  EXPECT_TRUE(fhir::is_step_code("remove-sheath"));
  EXPECT_FALSE(fhir::is_step_code("remove"));
}

TEST(Digests, known_answers) {
  // FIPS 180-4 example "abc"; RFC 4648 section 10; SHA-1 of "abc" from FIPS 180-4.
  EXPECT_EQ(fhir::sha256_hex("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  EXPECT_EQ(fhir::sha1_base64("abc"), "qZk+NkcGgWq6PiVxeFDCbJzQ2J0=");
  EXPECT_EQ(fhir::base64("foobar"), "Zm9vYmFy");
  EXPECT_EQ(fhir::base64("foob"), "Zm9vYg==");
  EXPECT_EQ(fhir::base64(""), "");
  EXPECT_EQ(fhir::from_base64("Zm9v\n Yg=="), "foob");
  EXPECT_EQ(fhir::from_base64("Zm9vYmE="), "fooba");
  EXPECT_EQ(fhir::from_base64(""), "");
  EXPECT_FALSE(fhir::from_base64("Zm9"));
  EXPECT_FALSE(fhir::from_base64("Zm9*"));
}

TEST(Uuid, version_5_by_name) {
  // RFC 9562, appendix A.4: "www.example.com" in the DNS namespace.
  EXPECT_EQ(fhir::to_string(fhir::uuid5(fhir::kDnsNamespace, "www.example.com")), "2ed6657d-e927-568b-95e1-2665a8aea6a2");
  const auto parsed = fhir::parse_uuid("urn:uuid:2ED6657D-E927-568B-95E1-2665A8AEA6A2");
  ASSERT_TRUE(parsed);
  EXPECT_EQ(fhir::to_string(*parsed), "2ed6657d-e927-568b-95e1-2665a8aea6a2");
  EXPECT_EQ(fhir::to_string(fhir::kUrlNamespace), "6ba7b811-9dad-11d1-80b4-00c04fd430c8");
  for (const auto* bad : {"", "2ed6657d", "2ed6657d-e927-568b-95e1-2665a8aea6ag", "2ed6657de927-568b-95e1-2665a8aea6a2-"}) EXPECT_FALSE(fhir::parse_uuid(bad)) << bad;
}

}  // namespace
