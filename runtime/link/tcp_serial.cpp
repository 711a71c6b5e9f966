#include <atomic>
#include <boost/asio/connect.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/serial_port.hpp>
#include <boost/asio/write.hpp>
#include <optional>

#include "lang/text/overloaded.h"
#include "runtime/link/transport.h"
#include "runtime/link/usbtmc.h"

namespace rampart::link {
namespace {

namespace asio = boost::asio;
using Error = boost::system::error_code;

std::string in_words(const Error& error) {
  if (error == asio::error::eof) return "the other side closed the connection";
  std::string text = error.message();
  if (!text.empty() && text[0] >= 'A' && text[0] <= 'Z') text[0] = static_cast<char>(text[0] - 'A' + 'a');
  return text;
}

// What TCP and serial lines have in common: one operation at a time, each with a deadline.
template <class Stream>
class StreamTransport : public Transport {
 public:
  StreamTransport() : stream_(io_) {}

  void close() override {
    Error ignored;
    static_cast<void>(stream_.close(ignored));
  }

  std::string write(std::string_view bytes, Deadline deadline) override {
    return perform(deadline, [&](auto done) {
      asio::async_write(stream_, asio::buffer(bytes), [done](const Error& error, std::size_t) { done(error); });
    });
  }

  std::string read(std::string& into, Deadline deadline) override {
    std::size_t got = 0;
    std::string why = perform(deadline, [&](auto done) {
      stream_.async_read_some(asio::buffer(piece_), [done, &got](const Error& error, std::size_t count) {
        got = count;
        done(error);
      });
    });
    into.append(piece_, got);
    return why;
  }

  void interrupt() override {
    is_interrupted_ = true;
    asio::post(io_, [this] { cancel(); });
  }
  void resume() override { is_interrupted_ = false; }

 protected:
  void cancel() {
    Error ignored;
    static_cast<void>(stream_.cancel(ignored));
  }

  // Starts an operation, which calls what it is given once with its error, and waits for it.
  template <class Start>
  std::string perform(Deadline deadline, const Start& start) {
    if (is_interrupted_) return std::string(kInterrupted);
    std::optional<Error> result;
    // A cancellation that came while nothing was going on must not meet this operation.
    io_.restart();
    io_.poll();
    start([&result](const Error& error) { result = error; });
    io_.restart();
    while (!result && io_.run_one_until(deadline) > 0) {
    }
    const bool is_late = !result;
    if (is_late) cancel();
    // What was begun has to end before its buffer goes.
    while (!result) {
      io_.restart();
      io_.run_one();
    }
    if (is_interrupted_) return std::string(kInterrupted);
    if (is_late) return std::string(kTimedOut);
    return *result ? in_words(*result) : std::string();
  }

  asio::io_context io_;
  Stream stream_;

 private:
  std::atomic<bool> is_interrupted_ = false;
  char piece_[4096]{};
};

class TcpTransport : public StreamTransport<asio::ip::tcp::socket> {
 public:
  explicit TcpTransport(TcpPlace place) : place_(std::move(place)) {}

  std::string open(Deadline deadline) override {
    close();
    Error error;
    const auto address = asio::ip::make_address(place_.address, error);
    if (error) return in_words(error);
    std::string why = perform(deadline, [&](auto done) { stream_.async_connect({address, place_.port}, done); });
    if (!why.empty()) return why;
    // Messages are short, and each is waited for.
    static_cast<void>(stream_.set_option(asio::ip::tcp::no_delay(true), error));
    return error ? in_words(error) : std::string();
  }

 private:
  TcpPlace place_;
};

class SerialTransport : public StreamTransport<asio::serial_port> {
 public:
  explicit SerialTransport(SerialPlace place) : place_(std::move(place)) {}

  std::string open(Deadline) override {
    using Base = asio::serial_port_base;
    close();
    Error error;
    static_cast<void>(stream_.open(place_.device, error));
    if (error) return in_words(error);
    const auto stop = place_.stop_bits == 1 ? Base::stop_bits::one : Base::stop_bits::two;
    const auto parity = place_.parity == Parity::None  ? Base::parity::none
                        : place_.parity == Parity::Odd ? Base::parity::odd
                                                       : Base::parity::even;
    const auto flow = place_.flow == FlowControl::None       ? Base::flow_control::none
                      : place_.flow == FlowControl::Software ? Base::flow_control::software
                                                             : Base::flow_control::hardware;
    std::string why = set(Base::baud_rate(static_cast<unsigned>(place_.baud)), "baud rate");
    if (why.empty()) why = set(Base::character_size(static_cast<unsigned>(place_.data_bits)), "number of data bits");
    if (why.empty()) why = set(Base::stop_bits(stop), "number of stop bits");
    if (why.empty()) why = set(Base::parity(parity), "parity");
    if (why.empty()) why = set(Base::flow_control(flow), "flow control");
    return why;
  }

 private:
  template <class Option>
  std::string set(const Option& option, const char* what) {
    Error error;
    static_cast<void>(stream_.set_option(option, error));
    return error ? "its " + std::string(what) + " cannot be set: " + in_words(error) : std::string();
  }

  SerialPlace place_;
};

}  // namespace

std::unique_ptr<Transport> make_transport(const Place& place) {
  return std::visit(
      Overloaded{[](const TcpPlace& tcp) -> std::unique_ptr<Transport> { return std::make_unique<TcpTransport>(tcp); },
                 [](const SerialPlace& serial) -> std::unique_ptr<Transport> {
                   return std::make_unique<SerialTransport>(serial);
                 },
                 [](const UsbtmcPlace& usbtmc) { return make_usbtmc(usbtmc); }},
      place);
}

bool is_ip_address(const std::string& text) {
  Error error;
  static_cast<void>(asio::ip::make_address(text, error));
  return !error;
}

}  // namespace rampart::link
