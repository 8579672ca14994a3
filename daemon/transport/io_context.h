// Inside transport/ (and app/, which may use Asio): how an Io looks to Asio.
#pragma once

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/io_context.hpp>

#include "transport/io.h"

namespace transport {

boost::asio::io_context& context_of(Io& io);

/// An executor whose work never overlaps: the loop itself with one thread, else a strand of its own.
boost::asio::any_io_executor serial_executor(Io& io);

/// Runs `work` on the executor and waits for it, so that afterwards none of that executor's earlier work is running.
/// When the threads do not run, or when called from one of them, runs it at once instead.
void run_and_wait(Io& io, boost::asio::any_io_executor const& executor, std::function<void()> work);

}  // namespace transport
