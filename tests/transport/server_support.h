#pragma once

#include <gtest/gtest.h>

#include <memory>

#include "transport/http_server.h"
#include "transport/sockets_support.h"

/// A server on a free port with its own I/O thread.
class RunningServer {
 public:
  explicit RunningServer(transport::Handler handler, transport::ServerOptions options = {}) {
    options.address = "127.0.0.1:0";
    server = std::make_unique<transport::HttpServer>(io, std::move(options), std::move(handler));
    if (auto const started = server->start(); !started) ADD_FAILURE() << started.error().text;
    io.start();
  }
  sockets::Connection connect() const { return sockets::Connection::to(server->port()); }

  transport::Io io;
  std::unique_ptr<transport::HttpServer> server;
};

/// Answers with what it got: "METHOD target" and, after a space, the body.
inline void echo(transport::Request request, transport::Reply reply) {
  reply({.status = 200, .headers = {{"Content-Type", "text/plain"}}, .body = request.method + " " + request.target + " " + request.body});
}

inline std::string post(std::string const& body, std::string const& more_fields = {}) {
  return "POST /fhir HTTP/1.1\r\nHost: localhost\r\n" + more_fields + "Content-Length: " + std::to_string(body.size()) + "\r\n\r\n" + body;
}

inline std::string get(std::string const& target, std::string const& more_fields = {}) {
  return "GET " + target + " HTTP/1.1\r\nHost: localhost\r\n" + more_fields + "\r\n";
}
