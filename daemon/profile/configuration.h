// The daemon's configuration file (TOML) as values. Every fault of the file is named at once; with any, there is no configuration.
//
// Paths of things that must exist (protocol, site, authorities) are looked for in the configuration file's folder, then in the data directory
// (the folder of profiles/ and templates/). Things that the daemon makes (store, chart folder) start at the configuration file's folder.
// The keys with their defaults, limits and reasons: configuration_keys.cpp.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "tables/fault.h"

namespace profile {

struct Configuration {
  std::string file;  ///< the configuration file, as named

  struct Listen {
    std::string public_address;  ///< "127.0.0.1:8181"; port 0: any free one; another machine's only with a certificate
    std::string admin_address;   ///< loopback only
    std::filesystem::path tls_certificate, tls_key;  ///< PEM; both or none
    std::filesystem::path tls_client_ca;             ///< PEM: senders must show a certificate of these authorities; empty: none is asked for
    std::filesystem::path secret_file;               ///< secrets, one a line: each request must carry one of them in `secret_header`; empty: none is asked for
    std::string secret_header;
    std::filesystem::path signature_secret_file;     ///< HMAC keys, one a line: each request must be signed with one of them; empty: no signature is asked for
    std::string signature_header;                    ///< "webhook-signature": with id and time; any other: over the body alone
    std::string tls_client_subjects;                 ///< RFC 2253 subjects, one after the other with ';' between; empty: all of these authorities
  } listen;
  /// How the record lets us in. A secret is a file, or "credential:NAME" of the service manager.
  struct Access {
    std::string kind;                                     ///< "none", "bearer", "basic", "backend-services"
    std::filesystem::path token_file;                     ///< bearer
    std::string user;                                     ///< basic
    std::filesystem::path password_file;
    std::string client_id, scope, token_url;              ///< backend services; token_url empty: discovered
    std::filesystem::path key_file, next_key_file;        ///< PEM private keys: the one that signs, and one that is published before it takes over
    std::filesystem::path certificate, certificate_key;   ///< PEM, shown to the record where it asks; both or none
  } access;
  /// Whom to look at where the record does not let us search for changed Procedures. All empty: nobody.
  struct Roster {
    std::string lists;           ///< "Group/x; List/y"
    std::string locations;       ///< "Location/x; ...": the patients of Encounters there
    std::string appointments;    ///< "Location/x; ...": the patients of Appointments there, yesterday to tomorrow
    std::filesystem::path file;  ///< a patient a line; need not be there at the start
  } roster;
  struct Store {
    std::string url;             ///< as written: "sqlite:var/aftersheath.db", "postgresql://..."
    std::filesystem::path path;  ///< of a sqlite url, resolved; else empty
  } store;
  struct Chart {
    std::filesystem::path folder;
  } chart;
  struct Record {
    std::string base_url;           ///< without a slash at the end
    std::string purpose;            ///< "test" or "production"
    std::string mode;               ///< "live" or "shadow"
    std::string writing;            ///< the rung: "auto", "transactions", "single-writes", "documents" (Tasks and CarePlans are served here)
    std::string serve;              ///< what of a plan is served here beside that: "as-needed" (with documents all, else nothing), "care-plans", "tasks" (each with single writes of the rest)
    std::string fhir;               ///< version of what is written: "R4" (4.0.1, R4B alike), "R5" (5.0.0)
    std::string test_patient;       ///< for whom `probe` writes: "Patient/x" or system|value; empty: nobody
    std::string takes_over;         ///< id of an installation whose store is lost and whose plans this one carries on; empty: none
    std::string source;             ///< {source} of /fhir/hook/{source}/{name} under which this record itself sends; empty: none
    std::int64_t horizon_seconds;   ///< how late a resource may become visible after its meta.lastUpdated
    std::string next_page;          ///< "below-base" or "rebase": where the further pages of a search are asked for
    std::vector<std::string> categories;  ///< "Observation/flowsheet", "Observation/system|code": the site's own, searched for beside the standard ones
    std::vector<std::string> history;  ///< types whose history is asked for what was deleted
    std::int64_t look_seconds;      ///< between two rounds of asking for what has changed; 0: only when a sender says so
    std::filesystem::path ca_file;  ///< PEM of the trusted authorities; empty: the system's
  };
  std::optional<Record> record;  ///< none: transactions and sheets go into the chart folder
  /// What the record wants of a document. A code is "system|code|display"; empty: our own.
  struct Documents {
    std::string attachment;          ///< "binary", "inline" (the PDF in attachment.data), "xhtml" (the same plan as a page)
    std::string type, category;
    std::string author, author_name; ///< "Practitioner/x", "Organization/x"; both empty: this installation as a Device
    std::string encounter;           ///< "if-known", or "needed": no document is written before the patient's encounter is known
    std::string found_by;            ///< "identifier", or "patient": how it is looked for whether one stands
    std::string conditions;          ///< "yes": If-None-Exist and If-Match are sent; "no"
    std::string updates;             ///< "yes": a document that has been replaced is marked so; "no": the record takes no change of one
    std::string communication;       ///< "yes": with writing = "documents" a Communication goes with each new sheet and call; "no"
  } documents;
  /// Subscriptions of our own at the record, so that it tells us what changes.
  struct Subscriptions {
    std::string form;        ///< "none": there are none; "auto", "plain", "backport", "r5"
    std::string endpoint;    ///< our FHIR base as the record reaches it, without a slash at the end
    std::vector<std::string> criteria;  ///< of form plain, a Subscription each: "Task?"
    std::vector<std::string> topics;    ///< of the other forms: "CANONICAL" or "CANONICAL Type?filter"
    std::string payload;     ///< "form": full-resource with plain, else id-only; "empty", "id-only", "full-resource"
    std::string contact;     ///< "mailto:...", "tel:..." or another address; empty: none
    std::int64_t heartbeat_seconds;  ///< asked for; 0: none
    std::int64_t days;       ///< from creation to end
  } subscriptions;
  struct Protocol {
    std::filesystem::path file;
  } protocol;
  struct Site {
    std::filesystem::path file;
    std::string time_zone;   ///< IANA name, known to the zone database
    std::string language;    ///< BCP 47 tag with a folder in templates/
    std::string paper;       ///< "A4", "Letter", "A5"
    std::string patient_code; ///< the record number on the sheet for scanners: "none", "code-128", "data-matrix", "qr"
    std::string owner;       ///< "Organization/x" that owns the Tasks; empty: none
    std::string owner_name;  ///< for people
    /// [[site.unit]]: who owns the Tasks of patients who lie there.
    struct Unit {
      std::string location;          ///< "Location/x": this place and all that is part of it
      std::string owner, owner_name; ///< as above; owner is never empty
    };
    std::vector<Unit> units;
    std::string tasks_over_limit;  ///< what becomes of Tasks over limits.tasks_per_patient_hour: "wait", or "group" (the last one given names them)
  } site;
  /// Where the sheets of a place are printed.
  struct Queue {
    std::string uri;          ///< "ipps://host[:port]/path"; empty: nowhere
    std::string name;         ///< as people call the printer; never empty where there is a uri
    std::string second_uri;   ///< taken when the first cannot print; empty: none
    std::string second_name;
  };
  struct Print {
    Queue facility;                      ///< of every place that no unit names
    struct Unit {
      std::string location;              ///< "Location/x": this place and all that is part of it
      Queue queue;                       ///< without a uri: nothing is printed there
    };
    std::vector<Unit> units;
    std::int64_t reroute_seconds;        ///< how long a printer may be in trouble before the second is taken
    std::int64_t person_seconds;         ///< how long a sheet may be without paper before a person is asked
    std::int64_t answer_seconds;         ///< for one answer of a printer
    std::string unencrypted, shadow, rehearsal;  ///< "yes" or "no"
  };
  std::optional<Print> print;  ///< none: nothing is printed
  struct Limits {
    std::int64_t disk_free_mebibytes;                                                          // below it the intake refuses
    std::int64_t body_bytes, header_bytes, connections, connections_per_address, read_seconds, answer_seconds;      // intake
    std::int64_t pending_events, oldest_pending_seconds;                                   // when to refuse, when to sound the alarm
    std::int64_t record_parallel, record_per_second, record_timeout_seconds, longest_backoff_seconds;         // towards the record
    std::int64_t settle_unknown_seconds, conflicts_before_person;
    std::int64_t tasks_per_patient_hour;                                                   // routine ones; urgent ones are never held back
    std::int64_t served_days;                                                              // after the end of a case, until what was served here is removed
    std::int64_t quarantine_count, quarantine_bytes;                                       // what is kept aside
  } limits{};
};

struct LoadedConfiguration {
  std::optional<Configuration> configuration;  ///< absent when there is any fault
  std::vector<tables::Fault> faults;           ///< sorted by place
};

LoadedConfiguration load_configuration(const std::filesystem::path& file, const std::filesystem::path& data);

/// Where a relative path leads: below `file`'s folder if it exists there, else below `data` if it exists there, else none. Absolute: itself, if it exists.
std::optional<std::filesystem::path> find_input(const std::filesystem::path& path, const std::filesystem::path& file, const std::filesystem::path& data);

/// Every key with its default and reason, one a line, for --help and the documentation: "limits.pending_events = 20000  # ...".
std::string describe_keys();

}  // namespace profile
