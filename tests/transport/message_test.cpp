#include <gtest/gtest.h>

#include <functional>

#include "transport/http_handler.h"
#include "transport/http_message.h"

using transport::Headers;
using transport::Reply;
using transport::Response;

TEST(Headers, AreFoundWithoutRegardToCaseAndKeepTheirOrder) {
  Headers headers{{"ETag", "1"}, {"Link", "a"}, {"LINK", "b"}, {"Empty", ""}};
  EXPECT_EQ(headers.get("etag"), "1");
  EXPECT_EQ(headers.get("link"), "a");
  EXPECT_EQ(headers.count("Link"), 2U);
  EXPECT_EQ(headers.get("empty"), "");
  EXPECT_EQ(headers.get("none"), std::nullopt);
  headers.set("link", "c");
  EXPECT_EQ(headers, (Headers{{"ETag", "1"}, {"Empty", ""}, {"link", "c"}}));
  headers.erase("ETAG");
  EXPECT_EQ(headers.size(), 2U);
}

TEST(Token, IsWhatRfc9110Section562Allows) {
  for (auto const* token : {"GET", "X-Header_1", "!#$%&'*+-.^_`|~"}) EXPECT_TRUE(transport::is_token(token)) << token;
  for (auto const* other : {"", "A B", "A:", "\xc3\xa4", "a\r\n", "(a)"}) EXPECT_FALSE(transport::is_token(other)) << other;
}

TEST(Reply, CountsTheFirstAnswerOnly) {
  std::vector<int> given;
  Reply const reply([&](Response answer) { given.push_back(answer.status); });
  auto const copy = reply;
  copy({.status = 201});
  reply({.status = 202});
  EXPECT_EQ(given, std::vector<int>{201});
}

TEST(Reply, Is500WhenForgotten) {
  std::vector<int> given;
  {
    Reply const reply([&](Response answer) { given.push_back(answer.status); });
    auto const copy = std::make_unique<Reply>(reply);
  }
  EXPECT_EQ(given, std::vector<int>{500});
}
