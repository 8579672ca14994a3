// One Subscription of ours: made, requested again, replaced, removed.
#include <fmt/format.h>

#include "app/subscriptions.h"
#include "fhir/date_time.h"

namespace app {
namespace {

constexpr Millis kDay = 86'400'000;
constexpr std::chrono::seconds kActivation{120};  // "requested" for longer is somebody's business

/// Not for today only: the record will not have it in this form. Anything else may pass.
bool is_refusal(int status) { return status == 400 || (status >= 403 && status <= 406) || status == 422 || status == 501; }
bool is_done(int status) { return status >= 200 && status < 300; }

}  // namespace

fhir_write::SubscriptionWish Subscriptions::wish(const Row& row) const {
  const auto& configuration = parts_.rules.configuration;
  const auto& wanted = configuration.subscriptions;
  fhir_write::SubscriptionWish out;
  using enum fhir_write::SubscriptionForm;
  out.form = row.form == "r5" ? r5 : row.form == "backport" ? backport : plain;
  out.id = row.server_id;
  out.subject = row.subject;
  out.endpoint = address_of(row);
  out.header = configuration.listen.secret_header;
  out.secret = row.secret;
  out.payload = wanted.payload == "form" ? (out.form == plain ? "full-resource" : "id-only") : wanted.payload;
  out.end = fhir::format_utc(fhir::Instant{std::chrono::seconds{row.ends_at / 1000}});
  out.contact = wanted.contact;
  out.installation = parts_.rules.installation;
  out.test_data = configuration.record->purpose == "test";
  out.heartbeat_seconds = wanted.heartbeat_seconds;
  return out;
}

void Subscriptions::create(const std::string& name, Done done) {
  auto one = row(name);
  if (!one || !one->server_id.empty() || one->state == "ending") return done();
  one->ends_at = record_now_ + parts_.rules.configuration.subscriptions.days * kDay;
  move(*one, "sending");  // on disk before the first byte leaves
  const auto kept = row(name);
  if (!kept || kept->state != "sending") return done();
  calls_.create(fhir_write::subscription(wish(*kept)), [this, name, done](const SubscriptionCalls::Written& written) {
    take_created(name, written);
    done();
  });
}

void Subscriptions::take_created(const std::string& name, const SubscriptionCalls::Written& written) {
  auto one = row(name);
  if (!one) return;
  unsettled_ = true;
  if (is_done(written.status) && !written.id.empty()) {
    one->server_id = written.id;
    wait_for_activation(name);
    return move(*one, "requested");  // the next look says whether it is active
  }
  if (is_refusal(written.status)) {
    move(*one, "refused", fmt::format("the record answered {}", written.status));
    return parts_.alarms.raise(topic_of_alarm(*one), fmt::format("the record takes no Subscription for {} ({}): changes are found by asking", one->subject, written.status));
  }
  note_unknown(name);
}

/// Until the record must be done with what it did not answer, nothing is made a second time.
void Subscriptions::note_unknown(const std::string& name) {
  unknown_.insert(name);
  after(std::chrono::seconds{parts_.rules.configuration.limits.settle_unknown_seconds}, "unknown " + name, [this, name] { unknown_.erase(name); });
}

void Subscriptions::wait_for_activation(const std::string& name) {
  after(kActivation, "activation " + name, [this, name] {
    const auto one = row(name);
    if (one && one->state == "requested")
      parts_.alarms.raise(topic_of_alarm(*one), fmt::format("Subscription {} ({}) is still requested: the record has not made it active, and changes are found by asking", one->server_id, one->subject));
  });
}

/// Everything that may have changed first, then the Subscription; the look that finds it active asks once more.
void Subscriptions::ask_again(const std::string& name, SeenSubscription seen, Done done) {
  catch_up_first([this, name, seen = std::move(seen), done](bool whole) {
    auto one = row(name);
    if (!whole || !one || one->state != "error") return done();
    one->ends_at = record_now_ + parts_.rules.configuration.subscriptions.days * kDay;
    put(*one);
    calls_.update(fhir_write::subscription(wish(*one)), seen.brief.version, [this, name, done](const SubscriptionCalls::Written& written) {
      auto now = row(name);
      if (!now) return done();
      if (is_refusal(written.status)) return replace(*now, done);
      if (is_done(written.status)) {
        wait_for_activation(name);
        move(*now, "requested");
      }
      done();
    });
  });
}

/// It is gone, or cannot be mended: a new one, with another secret.
void Subscriptions::replace(Row one, Done done) {
  parts_.log.warn(fmt::format("subscription {} ({}) is replaced", one.server_id, one.subject));
  catch_up_first([this, name = one.name, done](bool whole) {
    const auto now = row(name);
    if (whole && now) {
      move(*now, "ending", "it is gone, or could not be requested again");
      add_row(now->subject);
    }
    done();
  });
}

void Subscriptions::remove(const std::string& name, SeenSubscription seen, Done done) {
  const bool ours = seen.brief.writer == parts_.rules.installation || seen.brief.writer.empty();  // some records drop tags
  if (!ours) return done();
  calls_.remove(std::move(seen), [this, name, done](bool gone) {
    unsettled_ = unsettled_ || !gone;
    const auto one = row(name);
    if (gone && one && one->state == "ending") {
      if (!one->server_id.empty()) switched_off_.insert(one->server_id);
      parts_.log.info(fmt::format("subscription {} ({}) has been removed", one->name, one->subject));
      drop(*one);
    }
    done();
  });
}

}  // namespace app
