#pragma once

#include <gtest/gtest.h>

#include <future>
#include <thread>

#include "transport/http_client.h"
#include "transport/sockets_support.h"

/// A client with its own I/O thread, and a server on a socket for each test to misbehave with.
struct RunningClient {
  explicit RunningClient(transport::ClientOptions options = {}) : client(io, std::move(options)) { io.start(); }

  std::future<transport::Outcome> send(transport::OutgoingRequest request) {
    auto promise = std::make_shared<std::promise<transport::Outcome>>();
    client.send(std::move(request), [promise](transport::Outcome outcome) { promise->set_value(std::move(outcome)); });
    return promise->get_future();
  }

  std::string url(std::string const& target = "/") const { return "http://127.0.0.1:" + std::to_string(server.port()) + target; }
  transport::OutgoingRequest get() const { return {.url = url("/fhir/Patient/p?x=y"), .timeout = std::chrono::seconds{30}}; }
  transport::OutgoingRequest post() const { return {.method = "POST", .url = url("/fhir"), .body = "{}", .timeout = std::chrono::seconds{30}}; }

  sockets::Server server;
  transport::Io io;
  transport::HttpClient client;
};

inline transport::Response answer_of(std::future<transport::Outcome> future) {
  auto outcome = future.get();
  if (auto const* failure = std::get_if<transport::Failure>(&outcome))
    throw std::runtime_error(std::string(name_of(failure->kind)) + ": " + failure->text);
  return std::get<transport::Response>(outcome);
}

/// The failure's kind by name; "answer" when there was one.
inline std::string failure_of(std::future<transport::Outcome> future) {
  auto const outcome = future.get();
  auto const* failure = std::get_if<transport::Failure>(&outcome);
  return failure == nullptr ? "answer" : std::string(name_of(failure->kind));
}

inline std::string const ok_answer = "HTTP/1.1 200 OK\r\nContent-Length: 2\r\n\r\nok";
