#include "profile/configuration.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>

#include "profile/address.h"

namespace profile {
namespace {

namespace fs = std::filesystem;
const fs::path kData = SOURCE_DIR;
const std::string kZone = "[site]\ntime_zone = \"Europe/Berlin\"\n";

/// A configuration file in a folder of its own.
class Written {
 public:
  explicit Written(const std::string& text) : folder_(fs::path{testing::TempDir()} / ("configuration-" + name())) {
    fs::create_directories(folder_);
    std::ofstream{file()} << text;
  }
  ~Written() { fs::remove_all(folder_); }
  Written(const Written&) = delete;
  Written& operator=(const Written&) = delete;
  fs::path file() const { return folder_ / "a.toml"; }
  const fs::path& folder() const { return folder_; }
  LoadedConfiguration load() const { return load_configuration(file(), kData); }
  /// The faults, with the file's name alone.
  std::vector<std::string> faults() const {
    std::vector<std::string> out;
    for (auto fault : load().faults) {
      fault.file = "a.toml";
      out.push_back(tables::to_string(fault));
    }
    return out;
  }

 private:
  static std::string name() { return testing::UnitTest::GetInstance()->current_test_info()->name(); }
  fs::path folder_;
};

TEST(Configuration, TheExampleLoadsAndSaysTheDefaults) {
  const auto example = load_configuration(kData / "deploy/aftersheath.toml", kData);
  for (const auto& fault : example.faults) ADD_FAILURE() << tables::to_string(fault);
  ASSERT_TRUE(example.configuration);
  const auto plain = Written{kZone}.load();
  ASSERT_TRUE(plain.configuration);
  EXPECT_EQ(plain.configuration->listen.public_address, example.configuration->listen.public_address);
  EXPECT_EQ(plain.configuration->store.url, example.configuration->store.url);
  EXPECT_EQ(plain.configuration->limits.pending_events, example.configuration->limits.pending_events);
  EXPECT_EQ(plain.configuration->limits.quarantine_bytes, example.configuration->limits.quarantine_bytes);
  EXPECT_EQ(plain.configuration->protocol.file, example.configuration->protocol.file);
  EXPECT_FALSE(plain.configuration->record);
}

TEST(Configuration, TheExampleNamesEveryKey) {
  std::ifstream in(kData / "deploy/aftersheath.toml");
  const std::string text{std::istreambuf_iterator<char>{in}, {}};
  std::istringstream keys(describe_keys());
  for (std::string line; std::getline(keys, line);) {
    const auto dot = line.find('.');
    EXPECT_THAT(text, testing::HasSubstr(line.substr(dot + 1, line.find(' ') - dot - 1))) << line;
  }
}

TEST(Configuration, PathsStartAtTheFileThenAtTheData) {
  const Written written(kZone + "file = \"own/site.toml\"\n[store]\nurl = \"sqlite:db/a.db\"\n[chart]\nfolder = \"/tmp/charts\"\n");
  fs::create_directories(written.folder() / "own");
  std::ofstream{written.folder() / "own/site.toml"} << "";
  const auto loaded = written.load();
  ASSERT_TRUE(loaded.configuration);
  EXPECT_EQ(loaded.configuration->site.file, written.folder() / "own/site.toml");
  EXPECT_EQ(loaded.configuration->protocol.file, kData / "profiles/protocol/cautious.toml");
  EXPECT_EQ(loaded.configuration->store.path, written.folder() / "db/a.db");
  EXPECT_EQ(loaded.configuration->chart.folder, "/tmp/charts");
}

TEST(Configuration, ARecordIsWrittenToOnlyWhenAsked) {
  const auto loaded = Written{kZone + "[record]\nbase_url = \"http://127.0.0.1:9090/\"\npurpose = \"test\"\n"}.load();
  ASSERT_TRUE(loaded.configuration && loaded.configuration->record);
  EXPECT_EQ(loaded.configuration->record->base_url, "http://127.0.0.1:9090");
  EXPECT_EQ(loaded.configuration->record->mode, "shadow");
}

TEST(Configuration, EveryFaultIsNamedWithItsPlaceAndARemedy) {
  const Written written(
      "[listen]\npublic = \"0.0.0.0:8181\"\nadmin = 8182\n[store]\nurl = \"mysql:x\"\n[record]\nbase_url = \"http://record.example/fhir\"\nmode = \"on\"\n"
      "[protocol]\nfile = \"none.toml\"\n[site]\ntime_zone = \"Berlin\"\nlanguage = \"tlh\"\npapre = \"A4\"\n[limits]\nconnections = 0\n[clock]\nspeed = 2\n");
  const std::string where = "put it into " + written.folder().string() + " or " + kData.string() + ", or correct the path";
  EXPECT_THAT(written.faults(),
              testing::ElementsAre(
                  "a.toml:2:10: 'listen.public' is \"0.0.0.0:8181\", and anybody who reaches it could send facts about patients; do: name tls_client_ca, secret_file or signature_secret_file",
                  "a.toml:2:10: 'listen.public' is \"0.0.0.0:8181\", not a loopback address, without a certificate; do: name tls_certificate and tls_key, or listen on 127.0.0.1 and put a TLS proxy before it",
                  "a.toml:3:9: 'listen.admin' is a number; do: write a string, in quotes",
                  "a.toml:5:7: 'store.url' is \"mysql:x\", no store; do: write sqlite:path or postgresql://...",
                  "a.toml:6:2: 'record.purpose' is missing; do: add purpose to [record]: test: only patients labelled as test data; production: only under an approved protocol",
                  "a.toml:7:12: 'record.base_url' is \"http://record.example/fhir\", plain HTTP to another machine; do: use https",
                  "a.toml:8:8: 'record.mode' is \"on\", not known; do: write one of live, shadow",
                  "a.toml:10:8: 'protocol.file' is \"none.toml\", a file that is not there; do: " + where,
                  "a.toml:12:13: 'site.time_zone' is \"Berlin\", not in the time zone database; do: write an IANA name, as Europe/Berlin",
                  "a.toml:13:12: 'site.language' is \"tlh\", a language without sentences; do: write the name of a folder in templates/",
                  "a.toml:14:1: unknown key 'site.papre'; do: write 'site.paper', or remove it",
                  "a.toml:16:15: 'limits.connections' is 0, out of range; do: write a whole number from 1 to 100000",
                  "a.toml:17:2: unknown table 'clock'; do: remove it"));
}

TEST(Configuration, WhatBelongsTogetherIsGivenTogether) {
  const auto faults = [](const std::string& text) { return Written{text + kZone}.faults(); };
  using testing::ElementsAre;
  using testing::HasSubstr;
  EXPECT_THAT(faults("[access]\nkind = \"bearer\"\n"), ElementsAre(HasSubstr("'access.token_file' is missing")));
  EXPECT_THAT(faults("[access]\nkind = \"basic\"\nuser = \"x\"\n"), ElementsAre(HasSubstr("'access.password_file' is missing")));
  EXPECT_THAT(faults("[access]\nkind = \"backend-services\"\n"), ElementsAre(HasSubstr("'access.client_id' is missing"), HasSubstr("'access.key_file' is missing")));
  EXPECT_THAT(faults("[access]\ntoken_url = \"http://elsewhere.example/token\"\n"), ElementsAre(HasSubstr("no https address")));
  EXPECT_THAT(faults("[access]\ncertificate_key = \"credential:key\"\n"), ElementsAre(HasSubstr("'access.certificate_key' without 'access.certificate'")));
  EXPECT_THAT(faults("[listen]\ntls_key = \"credential:key\"\n"), ElementsAre(HasSubstr("'listen.tls_key' without 'listen.tls_certificate'")));
  EXPECT_THAT(faults("[listen]\ntls_client_subjects = \"CN=a\"\n"), ElementsAre(HasSubstr("without 'listen.tls_client_ca'")));
  EXPECT_THAT(faults("[listen]\nadmin = \"0.0.0.0:8182\"\n"), ElementsAre(HasSubstr("'listen.admin' is \"0.0.0.0:8182\", not a loopback address")));
}

TEST(Configuration, ASecretOfTheServiceManagerIsLookedForWhenItIsRead) {
  const auto loaded = Written{"[access]\nkind = \"backend-services\"\nclient_id = \"a\"\nkey_file = \"credential:signing-key\"\n" + kZone}.load();
  ASSERT_TRUE(loaded.configuration);
  EXPECT_EQ(loaded.configuration->access.key_file, "credential:signing-key");
}

TEST(Configuration, AListOfTheRosterIsNamedByIdOrIdentifierAndAHistoryByItsType) {
  const std::string record = "[record]\nbase_url = \"http://127.0.0.1:1/fhir\"\npurpose = \"test\"\n";
  const auto faults = [](const std::string& text) { return Written{text + kZone}.faults(); };
  for (const char* good : {"Group/a; List/b", "Group?identifier=urn:x|ward 7", "List?identifier=|7"}) EXPECT_THAT(faults(record + "[roster]\nlists = \"" + good + "\"\n"), testing::IsEmpty()) << good;
  for (const char* bad : {"Group", "Group?identifier=urn:x", "Group?identifier=urn:x|", "Patient?identifier=urn:x|7"}) EXPECT_EQ(faults(record + "[roster]\nlists = \"" + bad + "\"\n").size(), 1U) << bad;
  EXPECT_EQ(faults(record + "[roster]\nlocations = \"Location?identifier=a|b\"\n").size(), 1U);
  EXPECT_THAT(faults(record + "history = \"\"\n"), testing::IsEmpty());
  EXPECT_THAT(faults(record + "history = \"Procedure; Observation\"\n"), testing::IsEmpty());
  EXPECT_EQ(faults(record + "history = \"Procedure/_history\"\n").size(), 1U);
}

TEST(Configuration, CategoriesOfTheSitesOwnNameATypeThatIsSearchedByThem) {
  const std::string record = "[record]\nbase_url = \"http://127.0.0.1:1/fhir\"\npurpose = \"test\"\n";
  const auto faults = [](const std::string& text) { return Written{text + kZone}.faults(); };
  for (const char* good : {"Observation/flowsheet", "Observation/urn:site|rows;Condition/ward", "MedicationRequest/x"}) EXPECT_THAT(faults(record + "categories = \"" + good + "\"\n"), testing::IsEmpty()) << good;
  for (const char* bad : {"Observation", "Observation/", "Observation/urn:site|", "Procedure/x", "/x"}) EXPECT_EQ(faults(record + "categories = \"" + bad + "\"\n").size(), 1U) << bad;
}

TEST(Configuration, TheZoneHasToBeSaid) {
  EXPECT_THAT(Written{""}.faults(), testing::ElementsAre(testing::HasSubstr("'site.time_zone' is missing")));
  EXPECT_EQ(load_configuration("no/such/file.toml", kData).faults.size(), 1U);
}

// RFC 1122, section 3.2.1.3: 127/8 is loopback; RFC 4291, section 2.5.3: ::1.
TEST(Addresses, LoopbackIsAllOf127AndOne) {
  for (const char* host : {"127.0.0.1", "127.9.8.7", "::1", "localhost"}) EXPECT_TRUE(is_loopback(host)) << host;
  for (const char* host : {"127.evil.example", "10.0.0.1", "::2", "localhost.example", "128.0.0.1", "127.0.0.1.example"}) EXPECT_FALSE(is_loopback(host)) << host;
}
TEST(Addresses, AreRefusedWhenMalformed) {
  EXPECT_EQ(host_of_address("[::1]:8181"), "::1");
  for (const char* bad : {"127.0.0.1", ":80", "[::1:80", "host:99999", "host:8x", "a b:80", ""}) EXPECT_FALSE(host_of_address(bad)) << bad;
  EXPECT_TRUE(parse_base_url("HTTPS://Record.example:8443/fhir")->https);
  for (const char* bad : {"ftp://a/", "https://", "https://u@h/", "https://h/?q", "h/fhir", "https://h:x/"}) EXPECT_FALSE(parse_base_url(bad)) << bad;
}

}  // namespace
}  // namespace profile
