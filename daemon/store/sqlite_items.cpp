#include "store/sqlite_impl.h"

namespace store {

namespace {

#define ITEM_COLUMNS                                                                                                                            \
  "SELECT identity, case_key, type, step, ordinal, window_text, intended_hash, intended_status, server_id, etag, status, claimed, extra, body " \
  "FROM item "

Item read_item(Row& row) {
  Item i;
  i.identity = row.text();
  i.case_key = row.text();
  i.type = row.text();
  i.step = row.text();
  i.ordinal = row.integer();
  i.window = row.text();
  i.intended_hash = row.text();
  i.intended_status = row.text();
  i.server_id = row.text();
  i.etag = row.text();
  i.status = row.text();
  i.claimed = row.flag();
  i.extra = row.text();
  i.body = row.text();
  return i;
}

}  // namespace

Result<void> SqliteStore::put_item(const Item& i) {
  return db_->unit(std::nullopt, [&]() -> Result<void> {
    // Not INSERT OR REPLACE: that would push out another item with the same server id, where an error is wanted.
    const auto put = db_->run(
        "INSERT INTO item (identity, case_key, type, step, ordinal, window_text, intended_hash, intended_status, server_id, etag, status,"
        " claimed, extra, body) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
        " ON CONFLICT (identity) DO UPDATE SET case_key = excluded.case_key, type = excluded.type, step = excluded.step,"
        " ordinal = excluded.ordinal, window_text = excluded.window_text, intended_hash = excluded.intended_hash,"
        " intended_status = excluded.intended_status, server_id = excluded.server_id, etag = excluded.etag, status = excluded.status,"
        " claimed = excluded.claimed, extra = excluded.extra, body = excluded.body",
        i.identity, i.case_key, i.type, i.step, i.ordinal, i.window, i.intended_hash, i.intended_status, i.server_id, i.etag, i.status, i.claimed,
        i.extra, Blob{i.body});
    return put ? Result<void>() : Result<void>(put.error());
  });
}

Result<std::optional<Item>> SqliteStore::item(std::string_view identity) {
  return db_->first(ITEM_COLUMNS "WHERE identity = ?", read_item, identity);
}

Result<std::vector<Item>> SqliteStore::items_of_case(std::string_view case_key) {
  return db_->all(ITEM_COLUMNS "WHERE case_key = ? ORDER BY type, step, ordinal, identity", read_item, case_key);
}

Result<void> SqliteStore::drop_items_of_case(std::string_view case_key) {
  return db_->unit(std::nullopt, [&]() -> Result<void> {
    const auto gone = db_->run("DELETE FROM item WHERE case_key = ?", case_key);
    return gone ? Result<void>() : Result<void>(gone.error());
  });
}

Result<std::optional<Item>> SqliteStore::item_by_server_id(std::string_view type, std::string_view server_id) {
  return db_->first(ITEM_COLUMNS "WHERE type = ? AND server_id = ? AND server_id <> ''", read_item, type, server_id);
}

}  // namespace store
